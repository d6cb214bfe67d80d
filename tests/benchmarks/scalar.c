/*
 * The default comparison shot after shot, in plain scalar C: a yardstick for the array program.
 *
 * It is what a careful programmer writes who translates the package as it stands: the same formulas
 * in the same order, the same steps, turns and points (they come from the package, in constants.h,
 * which scalar.py writes), with the early exits that come naturally where one shot is played at a
 * time. It is meant to be honest: not held back, and not tuned beyond a good plain translation. No
 * vector instructions by hand, no threads, no approximations of its own.
 *
 * Scope: still air, lanes (no direct azimuth), everything a run counts. What each formula means and
 * where it comes from stands in the module of the package named at the head of each part.
 * Lengths in ft, times in s, angles in rad; left is player 0, right is player 1.
 */

#include <math.h>
#include <stddef.h>
#include <stdint.h>

#include "constants.h"

enum { LEFT, RIGHT, PLAYERS };
enum { DIRECTIONS = 3, SHOTS = 3, LANES = 3, FATES = 3, OUTCOMES = 3 };
enum { DRIVE, DROP, LOB };
enum { LINE, MIDDLE, CROSS };
enum { NET, OUT, IN_PLAY };
enum { THROUGH, AT_FULL_STRETCH, IN_CONTROL };
enum { REACHED = -1, SHORT, OVER, THROUGH_LINE, THROUGH_MIDDLE, THROUGH_CROSS, LEAKS };
enum { CONTROL, STRETCH, MEASURES };
enum { FOREHAND, BACKHAND, HANDS };
enum { CONSTANT, NORMAL, TRUNCATED, UNIFORM, TRIANGULAR, LIST };
enum { FOLLOW, TETHERED, HALVES, CENTRE, BISECT, FIXED, BEST };
enum {
    RETURN_SIDE, RETURN_DEPTH, RETURN_TOP, CONTACT_HEIGHT, SHOT, LANE, LANDING_SIDE, PACE,
    NET_CLEARANCE, LANDING_DEPTH, TOP, AZIMUTH, ERROR_SPEED, ERROR_ELEVATION, ERROR_AZIMUTH,
    REACTION_LEFT, REACTION_RIGHT, COLUMNS
};

/* --- what the scenario says; scalar.py fills structures of the same layout ----------------- */

/* Weights as running totals up to 1; `last` is the last index with a weight. */
typedef struct {
    const double *edges;
    int64_t count, last;
} Choice;

/* `below` and `inside`: the normal probability under `low`, and between `low` and `high`. */
typedef struct {
    int64_t kind;
    double mean, sd, low, mode, high, below, inside;
    const double *values;
    Choice choice;
} Distribution;

typedef struct {
    double drag, magnus, radius, restitution, friction;
} Ball;

typedef struct {
    double body, shoulder, bend, backhand, arm[MEASURES], arm_time, lunge, lunge_time;
    double forehand_side, top_speed, time_constant, sideways, backwards, run_in_delay;
    Distribution reaction;
} Player;

typedef struct {
    int64_t rule, split_step;
    double gap, shift, depth, own_depth[PLAYERS], centre[DIRECTIONS];
    double best_x[DIRECTIONS][PLAYERS], best_depth[DIRECTIONS][PLAYERS];
    double start_x[PLAYERS], start_y[PLAYERS];
} Policy;

typedef struct {
    double topspin, deepest;
    Distribution speed, net_clearance, landing_depth, top;
} Wish;

typedef struct {
    Ball ball;
    Player player[PLAYERS];
    double returner_side, struck_from_centre, struck_depth, struck_height;
    Distribution lateral[DIRECTIONS], return_depth, return_top, contact_height;
    double farthest_contact;
    Choice shots, lanes[DIRECTIONS];
    Distribution inset, middle;
    Wish wish[SHOTS];
    Distribution error_speed, error_elevation, error_azimuth;
    double split_step_lead, lateness, shortest_reaction;
    int64_t policies, baseline;
    const Policy *policy;
} Scenario;

/* --- small things --------------------------------------------------------------------------- */

static inline double larger(double a, double b) { return a > b ? a : b; }
static inline double smaller(double a, double b) { return a < b ? a : b; }
static inline double clip(double a, double low, double high) {
    return smaller(larger(a, low), high);
}
static inline double square(double a) { return a * a; }
static inline double distance(double x, double y) { return sqrt(x * x + y * y); }

/* --- sim/draws.py: uniform numbers ---------------------------------------------------------- */

typedef struct {
    uint64_t state[4];
} Generator;

static inline uint64_t rotated(uint64_t bits, int by) { return (bits << by) | (bits >> (64 - by)); }

/* SplitMix64 fills the state: G. L. Steele, D. Lea, C. H. Flood, Fast splittable pseudorandom
 * number generators, OOPSLA 2014. */
static Generator seeded(uint64_t seed) {
    Generator generator;
    for (int i = 0; i < 4; i++) {
        uint64_t bits = seed += 0x9e3779b97f4a7c15u;
        bits = (bits ^ (bits >> 30)) * 0xbf58476d1ce4e5b9u;
        bits = (bits ^ (bits >> 27)) * 0x94d049bb133111ebu;
        generator.state[i] = bits ^ (bits >> 31);
    }
    return generator;
}

/* xoshiro256++: D. Blackman, S. Vigna, Scrambled linear pseudorandom number generators, ACM Trans.
 * Math. Softw. 47 (2021) 36. */
static inline uint64_t next(Generator *generator) {
    uint64_t *s = generator->state;
    uint64_t bits = rotated(s[0] + s[3], 23) + s[0], shifted = s[1] << 17;
    s[2] ^= s[0];
    s[3] ^= s[1];
    s[1] ^= s[2];
    s[0] ^= s[3];
    s[2] ^= shifted;
    s[3] = rotated(s[3], 45);
    return bits;
}

/* In (0, 1): a 0 becomes half of the smallest number above it. */
static inline double uniform_number(Generator *generator) {
    return larger((double)(next(generator) >> 11) * 0x1p-53, 0x1p-54);
}

/* --- sim/normal.py -------------------------------------------------------------------------- */

static inline double ratio(const double rational[2][8], double r) {
    double above = rational[0][0], below = rational[1][0];
    for (int i = 1; i < 8; i++) {
        above = above * r + rational[0][i];
        below = below * r + rational[1][i];
    }
    return above / below;
}

/* Normal quantile: M. J. Wichura, Algorithm AS 241, Applied Statistics 37 (1988) 477 (PPND16). */
static double normal_quantile(double u) {
    double away = u - 0.5;
    if (fabs(away) <= CENTRE_OF_NORMAL)
        return away * ratio(IN_CENTRE, square(CENTRE_OF_NORMAL) - square(away));
    double root = sqrt(-log(larger(smaller(u, 1.0 - u), SMALLEST_SHARE)));
    double size = root > FAR_TAIL ? ratio(IN_FAR_TAIL, root - FAR_TAIL)
                                  : ratio(IN_TAIL, root - 1.6);
    return u < 0.5 ? -size : size;
}

/* --- sim/quantities.py: distributions ------------------------------------------------------- */

/* The first index whose running total is above `u`. */
static int64_t choose(const Choice *choice, double u) {
    int64_t low = 0, high = choice->count;
    while (low < high) {
        int64_t middle = (low + high) / 2;
        if (choice->edges[middle] <= u) low = middle + 1;
        else high = middle;
    }
    return low < choice->last ? low : choice->last;
}

static double quantile(const Distribution *from, double u) {
    double width = from->high - from->low, rise = from->mode - from->low;
    switch (from->kind) {
    case NORMAL:
        return from->mean + from->sd * normal_quantile(u);
    case TRUNCATED:
        return clip(from->mean + from->sd * normal_quantile(from->below + u * from->inside),
                    from->low, from->high);
    case UNIFORM:
        return from->low + u * width;
    case TRIANGULAR:
        if (u < rise / width) return from->low + sqrt(u * width * rise);
        return from->high - sqrt((1.0 - u) * width * (from->high - from->mode));
    case LIST:
        return from->values[choose(&from->choice, u)];
    default:
        return from->mean;
    }
}

/* --- sim/court.py --------------------------------------------------------------------------- */

static double net_height(double x) {
    double out = fabs(x);
    if (out > POST) return 0.0;
    double rise = (NET_HEIGHT_AT_SIDELINE - NET_HEIGHT_AT_CENTRE) / HALF_WIDTH;
    return NET_HEIGHT_AT_CENTRE + rise * smaller(out, HALF_WIDTH);
}

static int is_in(double x, double y) {
    return fabs(x) <= HALF_WIDTH && y >= -BASELINE && y <= 0.0;
}

/* --- sim/flight.py -------------------------------------------------------------------------- */

typedef struct {
    double x, y, z;
} Point;

typedef struct {
    double x, y, z, spin;
} Launch;

typedef struct {
    double along, height, speed_along, speed_up, change_along, change_up;
} Node;

typedef struct {
    double origin_x, origin_y, heading_x, heading_y, step;
    int steps;
    Node node[MOST_STEPS + 1];
} Flight;

static inline void change(const Ball *ball, double turn, double along, double up,
                          double *change_along, double *change_up) {
    double slowing = ball->drag * distance(along, up);
    *change_along = turn * up - slowing * along;
    *change_up = -GRAVITY - slowing * up - turn * along;
}

/* The package asks for more steps for a whole block at a time, here each ball asks for itself. */
static void fly(const Ball *ball, Point from, Launch launch, double duration, int steps,
                Flight *flight) {
    double speed = distance(launch.x, launch.y), size = larger(speed, SMALLEST_SPEED);
    double needed = 2.0 * ball->drag * distance(speed, launch.z) * duration;
    if (needed > steps) steps = (int)ceil(smaller(needed, MOST_STEPS));
    double step = duration / steps, half = 0.5 * step, sixth = step / 6.0;
    double turn = ball->magnus * launch.spin;
    flight->origin_x = from.x;
    flight->origin_y = from.y;
    flight->heading_x = launch.x / size;
    flight->heading_y = launch.y / size;
    flight->step = step;
    Node *node = flight->node;
    node->along = 0.0;
    node->height = from.z;
    node->speed_along = speed;
    node->speed_up = launch.z;
    for (int i = 0; i < steps; i++, node++) {
        double a1 = node->speed_along, u1 = node->speed_up;
        double da1, du1, da2, du2, da3, du3, da4, du4;
        change(ball, turn, a1, u1, &da1, &du1);
        double a2 = a1 + half * da1, u2 = u1 + half * du1;
        change(ball, turn, a2, u2, &da2, &du2);
        double a3 = a1 + half * da2, u3 = u1 + half * du2;
        change(ball, turn, a3, u3, &da3, &du3);
        double a4 = a1 + step * da3, u4 = u1 + step * du3;
        change(ball, turn, a4, u4, &da4, &du4);
        node->change_along = da1;
        node->change_up = du1;
        double middle_a = da2 + da3, middle_u = du2 + du3;
        double first_a = da1 + middle_a, first_u = du1 + middle_u;
        node[1].speed_along = a1 + sixth * (first_a + middle_a + da4);
        node[1].speed_up = u1 + sixth * (first_u + middle_u + du4);
        node[1].along = node->along + step * (a1 + sixth * first_a);
        node[1].height = node->height + step * (u1 + sixth * first_u);
    }
    change(ball, turn, node->speed_along, node->speed_up, &node->change_along, &node->change_up);
    flight->steps = steps;
}

static double falling_time(const Ball *ball, double z, Launch launch) {
    double height = larger(z, 0.0);
    double fastest =
        sqrt(square(launch.x) + square(launch.y) + square(launch.z) + 2.0 * GRAVITY * height);
    double lift = ball->magnus * larger(-launch.spin, 0.0) * fastest;
    double weight = larger(GRAVITY - lift, 0.25 * GRAVITY);
    double rise = larger(launch.z, 0.0) / weight;
    double top = height + 0.5 * weight * rise * rise;
    double rate = ball->drag * fastest;
    double fall = sqrt(2.0 * top / weight) * (1.0 + 0.25 * rate * sqrt(top / weight));
    for (int i = 0; i < 3; i++) {
        double gone = -expm1(-rate * fall);
        double drop = weight / rate * (fall - gone / rate);
        fall += (top - drop) / larger(weight / rate * gone, SMALLEST_SPEED);
    }
    return rise + fall;
}

static inline void hermite(double u, double weight[6]) {
    double v = 1.0 - u, u3 = u * u * u, v3 = v * v * v;
    weight[0] = v3 * (1.0 + 3.0 * u + 6.0 * u * u);
    weight[1] = u * v3 * (1.0 + 3.0 * u);
    weight[2] = 0.5 * u * u * v3;
    weight[3] = u3 * (1.0 + 3.0 * v + 6.0 * v * v);
    weight[4] = -v * u3 * (1.0 + 3.0 * v);
    weight[5] = 0.5 * v * v * u3;
}

/* Distance along and height inside the step that starts at `node`. */
static inline void inside_step(const Node *node, double step, const double weight[6],
                               double *along, double *height) {
    const Node *end = node + 1;
    *along = weight[0] * node->along + weight[3] * end->along +
             step * (weight[1] * node->speed_along + weight[4] * end->speed_along) +
             step * step * (weight[2] * node->change_along + weight[5] * end->change_along);
    *height = weight[0] * node->height + weight[3] * end->height +
              step * (weight[1] * node->speed_up + weight[4] * end->speed_up) +
              step * step * (weight[2] * node->change_up + weight[5] * end->change_up);
}

static inline Point over_ground(const Flight *flight, double along, double height) {
    return (Point){flight->origin_x + along * flight->heading_x,
                   flight->origin_y + along * flight->heading_y, height};
}

/* One step's quintic as a power series in the place from 0 to 1. */
typedef struct {
    double c[6];
} Piece;

static Piece piece_of(double step, double value0, double value1, double speed0, double speed1,
                      double change0, double change1) {
    speed0 *= step;
    speed1 *= step;
    change0 *= step * step;
    change1 *= step * step;
    double rise = value1 - value0 - speed0 - 0.5 * change0;
    double gain = speed1 - speed0 - change0, bend = change1 - change0;
    return (Piece){{value0, speed0, 0.5 * change0, 10.0 * rise - 4.0 * gain + 0.5 * bend,
                    -15.0 * rise + 7.0 * gain - bend, 6.0 * rise - 3.0 * gain + 0.5 * bend}};
}

static Piece piece_of_height(const Flight *flight, int index) {
    const Node *node = flight->node + index;
    return piece_of(flight->step, node->height, node[1].height, node->speed_up, node[1].speed_up,
                    node->change_up, node[1].change_up);
}

static Piece piece_along(const Flight *flight, int index) {
    const Node *node = flight->node + index;
    return piece_of(flight->step, node->along, node[1].along, node->speed_along,
                    node[1].speed_along, node->change_along, node[1].change_along);
}

static inline double value_at(const Piece *piece, double p) {
    const double *c = piece->c;
    return c[0] + p * (c[1] + p * (c[2] + p * (c[3] + p * (c[4] + p * c[5]))));
}

static inline double rate_at(const Piece *piece, double p) {
    const double *c = piece->c;
    return c[1] + p * (2.0 * c[2] + p * (3.0 * c[3] + p * (4.0 * c[4] + p * 5.0 * c[5])));
}

static inline double curve_at(const Piece *piece, double p) {
    const double *c = piece->c;
    return 2.0 * c[2] + p * (6.0 * c[3] + p * (12.0 * c[4] + p * 20.0 * c[5]));
}

static inline int step_at(const Flight *flight, double place) {
    int index = (int)place;
    return index < flight->steps ? index : flight->steps - 1;
}

static Point position(const Flight *flight, double time) {
    double place = time / flight->step;
    int index = step_at(flight, place);
    Piece along = piece_along(flight, index), height = piece_of_height(flight, index);
    return over_ground(flight, value_at(&along, place - index), value_at(&height, place - index));
}

/* Position and launch with which the flight goes on at a time. */
static Point place_and_launch(const Flight *flight, double time, double spin, Launch *launch) {
    double place = time / flight->step;
    int index = step_at(flight, place);
    Piece along = piece_along(flight, index), height = piece_of_height(flight, index);
    place -= index;
    double speed = rate_at(&along, place) / flight->step;
    *launch = (Launch){speed * flight->heading_x, speed * flight->heading_y,
                       rate_at(&height, place) / flight->step, spin};
    return over_ground(flight, value_at(&along, place), value_at(&height, place));
}

/* A root is found here where its place does not change any more; the package does all turns. */
static inline int arrived(double before, double now) { return fabs(now - before) < 1e-9; }

static double time_falling_to(const Flight *flight, double height) {
    int index = 0;
    while (index < flight->steps - 1 &&
           !(flight->node[index + 1].height < height && flight->node[index + 1].speed_up <= 0.0))
        index++;
    Piece piece = piece_of_height(flight, index);
    double place = 1.0;
    for (int i = 0; i < PARABOLAS; i++) {
        double before = place, above = value_at(&piece, place) - height;
        double rate = rate_at(&piece, place), bend = smaller(curve_at(&piece, place), -FLAT);
        double root = sqrt(larger(rate * rate - 2.0 * bend * above, 0.0));
        place = clip(place - (root + rate) / bend, 0.0, 1.0);
        if (arrived(before, place)) break;
    }
    return flight->step * (index + place);
}

static double time_at_line(const Flight *flight, double y) {
    double from = flight->origin_y, heading = flight->heading_y;
    int index = 0;
    while (index < flight->steps &&
           (from + flight->node[index + 1].along * heading > y) == (from > y))
        index++;
    if (index == flight->steps) return flight->step * flight->steps;
    double start = from + flight->node[index].along * heading;
    double gap = from + flight->node[index + 1].along * heading - start;
    double place = clip((y - start) / (fabs(gap) > FLAT ? gap : FLAT), 0.0, 1.0);
    Piece piece = piece_along(flight, index);
    for (int i = 0; i < NEWTON_STEPS; i++) {
        double before = place, off = from + value_at(&piece, place) * heading - y;
        double rate = rate_at(&piece, place) * heading;
        place = clip(place - off / (fabs(rate) > FLAT ? rate : FLAT), 0.0, 1.0);
        if (arrived(before, place)) break;
    }
    return flight->step * (index + place);
}

/* --- sim/bounce.py -------------------------------------------------------------------------- */

static Launch bounce(const Ball *ball, Launch before) {
    double speed = distance(before.x, before.y), down = larger(-before.z, 0.0);
    double rolling =
        (speed + INERTIA_FACTOR * ball->radius * before.spin) / (1.0 + INERTIA_FACTOR);
    double most = ball->friction * (1.0 + ball->restitution) * down;
    double loss = clip(speed - rolling, -most, most);
    double keep = larger(speed - loss, 0.0) / larger(speed, 1e-9);
    return (Launch){keep * before.x, keep * before.y, ball->restitution * down,
                    before.spin + loss / (INERTIA_FACTOR * ball->radius)};
}

/* --- sim/intention.py: the launch that meets a wish ----------------------------------------- */

typedef struct {
    Point from;
    double spin, drag, radius, turning;
    double slope[POINTS], stretch[POINTS], pace;
    double heading_x, heading_y, length, gate;
    double power[POINTS], to_gate[POINTS];
} Intention;

/* What is to be integrated along the flight, and its double integrals to the end and the gate. */
typedef struct {
    double fall[POINTS], pull[POINTS];
    double fallen, fallen_at_gate, pulled, pulled_at_gate;
} Profile;

static Intention intention_of(const Ball *ball, Point from, double spin) {
    Intention wish = {.from = from, .spin = spin, .drag = ball->drag, .radius = ball->radius,
                      .turning = ball->magnus * spin, .pace = 1.0 / GUESSED_GROUND_SPEED};
    for (int i = 0; i < POINTS; i++) wish.stretch[i] = 1.0;
    return wish;
}

static void head_for(Intention *wish, double landing_x, double landing_y) {
    double along_x = landing_x - wish->from.x, along_y = landing_y - wish->from.y;
    wish->length = distance(along_x, along_y);
    wish->heading_x = along_x / wish->length;
    wish->heading_y = along_y / wish->length;
}

static void head_for_side(Intention *wish, double landing_x) {
    wish->heading_x = clip((landing_x - wish->from.x) / wish->length, -0.95, 0.95);
    wish->heading_y = -sqrt(1.0 - square(wish->heading_x));
}

static inline double weighted(const double weight[POINTS], const double value[POINTS]) {
    double total = 0.0;
    for (int k = 0; k < POINTS; k++) total += weight[k] * value[k];
    return total;
}

/* Weights of the values at the points in what `to_powers` makes of them at the gate. */
static inline void weights_at_gate(const Intention *wish, const double to_powers[POINTS][POINTS],
                                   double weight[POINTS]) {
    for (int k = 0; k < POINTS; k++) weight[k] = 0.0;
    for (int j = 0; j < POINTS; j++)
        for (int k = 0; k < POINTS; k++) weight[k] += to_powers[j][k] * wish->power[j];
}

static void put_gate_at(Intention *wish, double gate) {
    double fraction = smaller(gate / wish->length, 1.0);
    wish->gate = gate;
    wish->power[0] = 1.0;
    for (int k = 1; k < POINTS; k++) wish->power[k] = wish->power[k - 1] * fraction;
    weights_at_gate(wish, TWICE_TO_POWERS, wish->to_gate);
}

/* The height of the centre as it is to pass over the net, where the gate is put. */
static double put_gate_at_net(Intention *wish, double clearance) {
    put_gate_at(wish, -wish->from.y / wish->heading_y);
    double x = wish->from.x + wish->gate * wish->heading_x;
    return net_height(clip(x, -POST, POST)) + wish->radius + clearance;
}

static void put_gate_at_top(Intention *wish) {
    double weight[POINTS];
    weights_at_gate(wish, TO_POWERS, weight);
    double slope = weighted(weight, wish->slope);
    double pace = wish->pace * weighted(weight, wish->stretch);
    double rate = -pace * (GRAVITY * pace + wish->turning * (1.0 + slope * slope));
    put_gate_at(wish, clip(wish->gate - slope / rate, 0.05 * wish->length, 0.95 * wish->length));
}

/* Integrals from 0 to every point. */
static inline void integrate(const double *restrict value, double *restrict integral) {
    for (int i = 0; i < POINTS; i++) integral[i] = weighted(INTEGRAL[i], value);
}

/* Without spin nothing pulls the ball, and its integrals are not needed. */
static void profile_of(Intention *wish, Profile *profile) {
    double squared[POINTS], growth[POINTS], exponent[POINTS];
    for (int i = 0; i < POINTS; i++) {
        double slope = clip(wish->slope[i], -STEEPEST, STEEPEST);
        squared[i] = 1.0 + square(slope);
        growth[i] = wish->drag * sqrt(squared[i]) -
                    wish->turning * wish->pace * slope * wish->stretch[i];
    }
    integrate(growth, exponent);
    for (int i = 0; i < POINTS; i++) {
        wish->stretch[i] = exp(smaller(wish->length * exponent[i], LONGEST_STRETCH));
        profile->fall[i] = square(wish->stretch[i]);
    }
    double area = square(wish->length);
    profile->fallen = area * weighted(TWICE_TO_END, profile->fall);
    profile->fallen_at_gate = area * weighted(wish->to_gate, profile->fall);
    profile->pulled = profile->pulled_at_gate = 0.0;
    if (wish->turning == 0.0) return;
    for (int i = 0; i < POINTS; i++) profile->pull[i] = wish->stretch[i] * squared[i];
    profile->pulled = area * weighted(TWICE_TO_END, profile->pull);
    profile->pulled_at_gate = area * weighted(wish->to_gate, profile->pull);
}

/* Take a new launch and the slope along it; `bend` is what the slope loses by the length. */
static void start(Intention *wish, const Profile *profile, double slope, double pace,
                  double bend[POINTS]) {
    double down = GRAVITY * pace * pace * wish->length;
    for (int i = 0; i < POINTS; i++) bend[i] = down * profile->fall[i];
    if (wish->turning != 0.0) {
        double across = wish->turning * pace * wish->length;
        for (int i = 0; i < POINTS; i++) bend[i] += across * profile->pull[i];
    }
    integrate(bend, wish->slope);
    for (int i = 0; i < POINTS; i++) wish->slope[i] = slope - wish->slope[i];
    wish->pace = pace;
}

static void end_at(Intention *wish, double length, const double bend[POINTS]) {
    double longer = length / wish->length - 1.0;
    for (int i = 0; i < POINTS; i++) wish->slope[i] -= NODES[i] * longer * bend[i];
    wish->length = length;
}

static void through_gate_to_end(Intention *wish, double height) {
    Profile profile;
    double bent[POINTS];
    profile_of(wish, &profile);
    double times = wish->length / wish->gate;
    double bend = larger((height - wish->from.z) * times + wish->from.z, 1e-3);
    double weight = GRAVITY * larger(profile.fallen - times * profile.fallen_at_gate, 0.0);
    double magnus = wish->turning * (profile.pulled - times * profile.pulled_at_gate);
    double root = magnus + sqrt(square(magnus) + 4.0 * weight * bend);
    double pace = clip(2.0 * bend / larger(root, 1e-9), QUICKEST, SLOWEST);
    double drop = pace * (GRAVITY * pace * profile.fallen + wish->turning * profile.pulled);
    start(wish, &profile, (drop - wish->from.z) / wish->length, pace, bent);
}

static void through_gate_at_speed(Intention *wish, double height, double speed) {
    Profile profile;
    double bend[POINTS];
    profile_of(wish, &profile);
    double gate = wish->gate, length = wish->length;
    double rise = height - wish->from.z + wish->turning * wish->pace * profile.pulled_at_gate;
    double most = 0.5 * (distance(rise, gate) - rise);
    double drop = GRAVITY * profile.fallen_at_gate / square(speed);
    drop = larger(smaller(drop, most), 1e-9);
    double root = larger(square(gate) - 4.0 * drop * (rise + drop), 0.0);
    double slope = (gate - sqrt(root)) / (2.0 * drop);
    double weight = drop * (1.0 + square(slope));
    double pace = clip(sqrt(weight / larger(GRAVITY * profile.fallen_at_gate, 1e-9)), QUICKEST,
                       SLOWEST);
    double ending = wish->from.z + slope * length -
                    pace * (GRAVITY * pace * profile.fallen + wish->turning * profile.pulled);
    start(wish, &profile, slope, pace, bend);
    double longer = -ending / smaller(wish->slope[POINTS - 1], -LEAST_LANDING_SLOPE);
    double end = clip(length + longer, 0.6 * length, 1.6 * length);
    end_at(wish, clip(end, 1.01 * gate, FARTHEST), bend);
}

static void guess_at_speed(Intention *wish, double speed, double clearance) {
    double reach = larger(wish->from.y, LEAST_REACH), from = wish->from.z;
    double rise = NET_HEIGHT_AT_CENTRE + wish->radius + clearance - from;
    double bend = 0.5 * GRAVITY / square(speed) * (1.0 + 2.0 / 3.0 * wish->drag * reach);
    double slope = rise / reach + bend * reach;
    bend *= 1.0 + square(slope);
    slope = rise / reach + bend * reach;
    double length = (slope + sqrt(square(slope) + 4.0 * bend * from)) / (2.0 * bend);
    wish->length = clip(length, 1.01 * reach, 3.0 * reach + BASELINE);
    for (int i = 0; i < POINTS; i++)
        wish->slope[i] = slope - NODES[i] * (2.0 * bend * wish->length);
    wish->pace = sqrt(1.0 + square(slope)) / speed;
}

/* So many turns; says whether the slope has settled. */
static int settle_at_speed(Intention *wish, double landing_x, double speed, double clearance,
                           int turns) {
    double before = 0.0;
    for (int i = 0; i < turns; i++) {
        before = wish->slope[0];
        head_for_side(wish, landing_x);
        through_gate_at_speed(wish, put_gate_at_net(wish, clearance), speed);
    }
    return fabs(wish->slope[0] - before) < SETTLED;
}

static Launch launch_of(const Intention *wish) {
    double slope = clip(wish->slope[0], -STEEPEST, STEEPEST);
    double along = smaller(1.0 / wish->pace, FASTEST / sqrt(1.0 + square(slope)));
    return (Launch){wish->heading_x * along, wish->heading_y * along, slope * along, wish->spin};
}

/* When and where the ball lands, and how it arrives there. */
static double landing_of(const Intention *wish, Point *mark, Launch *arriving) {
    double pace = wish->pace * wish->stretch[POINTS - 1];
    *mark = (Point){wish->from.x + wish->length * wish->heading_x,
                    wish->from.y + wish->length * wish->heading_y, 0.0};
    *arriving = (Launch){wish->heading_x / pace, wish->heading_y / pace,
                         wish->slope[POINTS - 1] / pace, wish->spin};
    return wish->pace * wish->length * weighted(INTEGRAL[POINTS - 1], wish->stretch);
}

static Launch aim_over_net(const Ball *ball, Point from, double landing_x, double landing_y,
                           double clearance, double spin) {
    Intention wish = intention_of(ball, from, spin);
    head_for(&wish, landing_x, landing_y);
    double height = put_gate_at_net(&wish, clearance);
    for (int i = 0; i < TURNS_OVER_NET; i++) through_gate_to_end(&wish, height);
    return launch_of(&wish);
}

static Intention aim_to_top(const Ball *ball, Point from, double landing_x, double landing_y,
                            double top, double spin) {
    if (from.y > 0.0) landing_y = smaller(landing_y, SHORTEST_LANDING);
    top = larger(top, from.z + LEAST_RISE);
    Intention wish = intention_of(ball, from, spin);
    head_for(&wish, landing_x, landing_y);
    double rising = sqrt(top - from.z), falling = sqrt(top);
    put_gate_at(&wish, wish.length * rising / (rising + falling));
    through_gate_to_end(&wish, top);
    for (int i = 1; i < TURNS_TO_TOP; i++) {
        put_gate_at_top(&wish);
        through_gate_to_end(&wish, top);
    }
    return wish;
}

/* Close to the least speed that gets there the turns close in slowly: there are more of them. */
static Launch aim_at_speed(const Ball *ball, Point from, double landing_x, double speed,
                           double clearance, double spin, double *landing_y) {
    Intention wish = intention_of(ball, from, spin);
    guess_at_speed(&wish, speed, clearance);
    if (!settle_at_speed(&wish, landing_x, speed, clearance, TURNS_AT_SPEED))
        settle_at_speed(&wish, landing_x, speed, clearance, TURNS_WHEN_SLOW);
    *landing_y = from.y + wish.length * wish.heading_y;
    return launch_of(&wish);
}

/* --- sim/return_of_serve.py ----------------------------------------------------------------- */

typedef struct {
    double time;
    Point at;
} Contact;

static Contact contact_on(const Flight *flight, double height, double farthest) {
    double time = time_falling_to(flight, height);
    Point at = position(flight, time);
    if (at.y <= farthest) return (Contact){time, at};
    time = time_at_line(flight, farthest);
    return (Contact){time, position(flight, time)};
}

static Contact fly_return(const Scenario *scenario, int direction, const double *uniform) {
    const Ball *ball = &scenario->ball;
    double side = scenario->returner_side;
    double landing_x = side * quantile(&scenario->lateral[direction], uniform[RETURN_SIDE]);
    double landing_y = quantile(&scenario->return_depth, uniform[RETURN_DEPTH]);
    double top = quantile(&scenario->return_top, uniform[RETURN_TOP]);
    double height = quantile(&scenario->contact_height, uniform[CONTACT_HEIGHT]);
    Point from = {side * scenario->struck_from_centre, -scenario->struck_depth,
                  scenario->struck_height};
    Intention meant = aim_to_top(ball, from, landing_x, landing_y, top, 0.0);
    Point mark;
    Launch arriving;
    double landing = landing_of(&meant, &mark, &arriving);
    Launch rebound = bounce(ball, arriving);
    Flight flight;
    fly(ball, mark, rebound, falling_time(ball, 0.0, rebound), STEPS_AFTER_BOUNCE, &flight);
    Contact contact = contact_on(&flight, height, scenario->farthest_contact);
    contact.time += landing;
    return contact;
}

/* --- sim/third_shot.py ---------------------------------------------------------------------- */

static Launch with_error(const Scenario *scenario, Launch meant, const double *uniform) {
    double squared = square(meant.x) + square(meant.y);
    double ground = sqrt(squared), speed = sqrt(squared + square(meant.z));
    speed *= 1.0 + quantile(&scenario->error_speed, uniform[ERROR_SPEED]);
    double elevation = atan2(meant.z, ground) +
                       quantile(&scenario->error_elevation, uniform[ERROR_ELEVATION]);
    double azimuth = atan2(meant.x, -meant.y) +
                     quantile(&scenario->error_azimuth, uniform[ERROR_AZIMUTH]);
    double level = speed * cos(elevation);
    return (Launch){level * sin(azimuth), -level * cos(azimuth), speed * sin(elevation),
                    meant.spin};
}

static double landing_side(const Scenario *scenario, int64_t lane, double near, double u) {
    if (lane == MIDDLE) return quantile(&scenario->middle, u);
    double sideline = HALF_WIDTH - quantile(&scenario->inset, u);
    return lane == LINE ? near * sideline : -near * sideline;
}

static Launch aim_drive(const Scenario *scenario, Point from, double landing_x,
                        const double *uniform) {
    const Wish *wish = &scenario->wish[DRIVE];
    double speed = quantile(&wish->speed, uniform[PACE]), landing_y;
    double clearance = quantile(&wish->net_clearance, uniform[NET_CLEARANCE]);
    Launch launch = aim_at_speed(&scenario->ball, from, landing_x, speed, clearance,
                                 wish->topspin, &landing_y);
    if (landing_y >= wish->deepest) return launch;
    return aim_over_net(&scenario->ball, from, landing_x, wish->deepest, clearance,
                        wish->topspin);
}

static Launch strike(const Scenario *scenario, int64_t kind, int64_t lane, Point from,
                     const double *uniform) {
    double near = from.x >= 0.0 ? 1.0 : -1.0;
    double landing_x = landing_side(scenario, lane, near, uniform[LANDING_SIDE]);
    const Wish *wish = &scenario->wish[kind];
    Launch launch;
    if (kind == DRIVE) {
        launch = aim_drive(scenario, from, landing_x, uniform);
    } else {
        double landing_y = -quantile(&wish->landing_depth, uniform[LANDING_DEPTH]);
        if (kind == DROP) {
            double clearance = quantile(&wish->net_clearance, uniform[NET_CLEARANCE]);
            launch = aim_over_net(&scenario->ball, from, landing_x, landing_y, clearance,
                                  wish->topspin);
        } else {
            double top = quantile(&wish->top, uniform[TOP]);
            Intention meant = aim_to_top(&scenario->ball, from, landing_x, landing_y, top,
                                         wish->topspin);
            launch = launch_of(&meant);
        }
    }
    return with_error(scenario, launch, uniform);
}

/* --- sim/rallies.py ------------------------------------------------------------------------- */

typedef struct {
    Flight approach, rebound;
    double net_time, landing_time;
} Rally;

/* Fly a struck ball to its fate, and one in play to its second bounce. */
static int follow_through(const Ball *ball, Point from, Launch launch, Rally *rally) {
    Flight flight;
    fly(ball, from, launch, falling_time(ball, from.z, launch), STEPS_TO_GROUND, &flight);
    double net_time = time_at_line(&flight, 0.0);
    Launch at_net, at_landing;
    Point over = place_and_launch(&flight, net_time, launch.spin, &at_net);
    double top_edge = net_height(over.x);
    if (over.y > 1e-6) return NET;
    if (over.z - top_edge - ball->radius < 0.0 && top_edge != 0.0) return NET;
    double landing = time_falling_to(&flight, 0.0);
    if (landing <= net_time) return NET;
    Point mark = place_and_launch(&flight, landing, launch.spin, &at_landing);
    if (!is_in(mark.x, mark.y)) return OUT;
    mark.z = 0.0;

    rally->net_time = net_time;
    rally->landing_time = landing;
    fly(ball, over, at_net, landing - net_time, STEPS_OF_APPROACH, &rally->approach);
    Launch bounced = bounce(ball, at_landing);
    /* Once quickly for its end, and once more to its very end: the last instant before the second
     * bounce counts, too. */
    double longest = falling_time(ball, 0.0, bounced);
    fly(ball, mark, bounced, longest, STEPS_OF_REBOUND, &rally->rebound);
    double end = time_falling_to(&rally->rebound, 0.0);
    fly(ball, mark, bounced, end, STEPS_OF_REBOUND, &rally->rebound);
    return IN_PLAY;
}

/* --- sim/run_in.py -------------------------------------------------------------------------- */

typedef struct {
    double x, y;
} Place;

static double straight_run(const Player *player, double time) {
    if (time <= 0.0) return 0.0;
    double lag = player->time_constant;
    return player->top_speed * (time + lag * expm1(-time / lag));
}

static inline double run_needed(const Player *player, double x, double y) {
    double ahead = y >= 0.0 ? y : y / player->backwards, aside = x / player->sideways;
    return distance(aside, ahead);
}

static double centre_of_pair(const Scenario *scenario, const Policy *policy, int direction,
                             Point from) {
    double away, to_left, to_right;
    switch (policy->rule) {
    case FOLLOW:
        return policy->shift * from.x;
    case TETHERED:
        return scenario->returner_side * (scenario->struck_from_centre - 0.5 * policy->gap);
    case BISECT:
        away = from.y + policy->depth;
        to_left = atan2(-HALF_WIDTH - from.x, away);
        to_right = atan2(HALF_WIDTH - from.x, away);
        return from.x + away * tan(0.5 * (to_left + to_right));
    case FIXED:
        return policy->centre[direction];
    default:
        return 0.0;
    }
}

/* From where a player starts to where the policy wants the player; `needed` as in run_needed. */
typedef struct {
    Place start, goal;
    double needed;
} Way;

static void ways(const Scenario *scenario, const Policy *policy, int direction, Point from,
                 Way way[PLAYERS]) {
    double room = larger(HALF_WIDTH - 0.5 * policy->gap, 0.0);
    double centre = clip(centre_of_pair(scenario, policy, direction, from), -room, room);
    for (int who = LEFT; who <= RIGHT; who++) {
        Place start = {policy->start_x[who], policy->start_y[who]};
        Place goal = {centre + (who == LEFT ? -0.5 : 0.5) * policy->gap, -policy->own_depth[who]};
        if (policy->rule == BEST)
            goal = (Place){policy->best_x[direction][who], -policy->best_depth[direction][who]};
        double needed =
            run_needed(&scenario->player[who], goal.x - start.x, goal.y - start.y);
        way[who] = (Way){start, goal, larger(needed, 1e-9)};
    }
}

/* Where a player is who could have run so far straight ahead. */
static inline Place place_on(const Way *way, double run) {
    double share = smaller(run / way->needed, 1.0);
    return (Place){way->start.x + share * (way->goal.x - way->start.x),
                   way->start.y + share * (way->goal.y - way->start.y)};
}

/* --- sim/reach.py --------------------------------------------------------------------------- */

enum { MOST_INSTANTS = 2 * MOST_STEPS * PER_STEP + 1 };

typedef struct {
    double time;
    Point at;
    int live;
} Instant;

/* The first `late` instants are before the first bounce. */
typedef struct {
    int count, late;
    Instant instant[MOST_INSTANTS];
} Track;

/* What of a player's reach does not depend on where the player stands. */
typedef struct {
    double run, reach[MEASURES][HANDS];
    int playable;
} Extent;

typedef struct {
    int control, stretch;
} Reached;

static inline int is_live(Point at) {
    return at.y <= 1e-6 && at.y > -LAST_DEPTH && at.z >= -GROUND;
}

static inline Instant instant_at(const Flight *flight, int step, const double weight[6],
                                 double time) {
    double along, height;
    inside_step(flight->node + step, flight->step, weight, &along, &height);
    Point at = over_ground(flight, along, height);
    return (Instant){time, at, is_live(at)};
}

static int sample(const Flight *flight, double start, Instant *instant) {
    double weight[6];
    for (int k = 0; k < PER_STEP; k++) {
        double part = (double)k / PER_STEP;
        hermite(part, weight);
        for (int i = 0; i < flight->steps; i++)
            instant[i * PER_STEP + k] =
                instant_at(flight, i, weight, (i + part) * flight->step + start);
    }
    return flight->steps * PER_STEP;
}

static void track_of(const Rally *rally, Track *track) {
    const double end[6] = {0.0, 0.0, 0.0, 1.0, 0.0, 0.0};
    const Flight *last = &rally->rebound;
    track->late = sample(&rally->approach, rally->net_time, track->instant);
    Instant *after = track->instant + track->late;
    int count = sample(last, rally->landing_time, after);
    after[count] = instant_at(last, last->steps - 1, end,
                              last->steps * last->step + rally->landing_time);
    track->count = track->late + count + 1;
}

/* Flat reach of an arm of a given length at height `z`; minus infinity above or below it. */
static inline double flat_reach(const Player *player, double z, double length, double arm_out,
                                double more) {
    double above = z - player->shoulder;
    double away = larger(above, -smaller(above + player->bend, 0.0));
    double squared = length * length - away * away;
    if (squared < 0.0) return -INFINITY;
    return player->body + sqrt(squared) * arm_out + more;
}

static Extent extent_of(const Player *player, const Instant *instant, double reaction) {
    Extent extent = {.playable = 0};
    double since = instant->time - reaction;
    if (!instant->live || since < 0.0) return extent;
    double arm_out = smaller(since / player->arm_time, 1.0);
    double lunged = player->lunge * smaller(since / player->lunge_time, 1.0);
    for (int measure = CONTROL; measure <= STRETCH; measure++) {
        double arm = player->arm[measure], more = measure == STRETCH ? lunged : 0.0;
        for (int hand = FOREHAND; hand <= BACKHAND; hand++)
            extent.reach[measure][hand] = flat_reach(
                player, instant->at.z, hand == FOREHAND ? arm : arm * player->backhand, arm_out,
                more);
    }
    extent.playable = 1;
    extent.run = straight_run(player, since);
    return extent;
}

static inline int hand_for(const Player *player, double x, Place place) {
    return player->forehand_side * (x - place.x) >= 0.0 ? FOREHAND : BACKHAND;
}

static double distance_left(const Player *player, Point at, int volley, Place place, double run) {
    double to_x = at.x - place.x, to_y = at.y - place.y;
    double share = smaller(run / larger(run_needed(player, to_x, to_y), 1e-12), 1.0);
    if (volley && place.y + share * to_y > -NON_VOLLEY_ZONE) {
        double ahead = -NON_VOLLEY_ZONE - place.y;
        double aside = sqrt(larger(run * run - ahead * ahead, 0.0)) * player->sideways;
        return distance(larger(fabs(to_x) - aside, 0.0), at.y + NON_VOLLEY_ZONE);
    }
    return distance(to_x, to_y) * (1.0 - share);
}

/* Whether a ball missed at every instant is reached between the two around the best one. */
static int reached_between(const Player *player, const Rally *rally, const Track *track,
                           Place place, double reaction, int best, int measure) {
    int volley = best < track->late;
    int first = volley ? 0 : track->late, last = volley ? track->late - 1 : track->count - 1;
    const Flight *flight = volley ? &rally->approach : &rally->rebound;
    double start = track->instant[first].time;
    double low = track->instant[best > first ? best - 1 : first].time;
    double high = track->instant[best < last ? best + 1 : last].time;
    for (int k = 1; k < FINER; k++) {
        double time = low + (double)k / FINER * (high - low);
        Point at = position(flight, time - start);
        Instant instant = {time, at, is_live(at)};
        Extent extent = extent_of(player, &instant, reaction);
        if (!extent.playable) continue;
        double reach = extent.reach[measure][hand_for(player, at.x, place)];
        if (reach >= distance_left(player, at, volley, place, extent.run)) return 1;
    }
    return 0;
}

/* The instant at which a missed ball is nearest, with either hand next to a change of sides; -1
 * where it is not a near miss. */
static int nearest_miss(const Player *player, const Track *track, const Extent *extent,
                        const double *left, Place place, int measure) {
    int best = -1;
    double most = -NEAR_MISS;
    for (int i = 0; i < track->count; i++) {
        if (!extent[i].playable) continue;
        int hand = hand_for(player, track->instant[i].at.x, place);
        int before = i > 0 ? i - 1 : i, after = i + 1 < track->count ? i + 1 : i;
        int changing = hand_for(player, track->instant[before].at.x, place) != hand ||
                       hand_for(player, track->instant[after].at.x, place) != hand;
        const double *reach = extent[i].reach[measure];
        double room = (changing ? larger(reach[FOREHAND], reach[BACKHAND]) : reach[hand]) - left[i];
        if (room > most) {
            most = room;
            best = i;
        }
    }
    return best;
}

static Reached who_reaches(const Player *player, const Rally *rally, const Track *track,
                           const Extent *extent, Place place, double reaction) {
    double left[MOST_INSTANTS];
    Reached reached = {0, 0};
    for (int i = 0; i < track->count; i++) {
        if (!extent[i].playable) continue;
        const Instant *instant = &track->instant[i];
        int hand = hand_for(player, instant->at.x, place);
        left[i] = distance_left(player, instant->at, i < track->late, place, extent[i].run);
        if (extent[i].reach[CONTROL][hand] >= left[i]) return (Reached){1, 1};
        if (extent[i].reach[STRETCH][hand] >= left[i]) reached.stretch = 1;
    }
    int best = nearest_miss(player, track, extent, left, place, CONTROL);
    if (best >= 0 && reached_between(player, rally, track, place, reaction, best, CONTROL))
        return (Reached){1, 1};
    if (reached.stretch) return reached;
    best = nearest_miss(player, track, extent, left, place, STRETCH);
    reached.stretch =
        best >= 0 && reached_between(player, rally, track, place, reaction, best, STRETCH);
    return reached;
}

/* --- sim/answers.py ------------------------------------------------------------------------- */

/* What one policy does with a shot in play; `leak` is REACHED where there is none. */
typedef struct {
    Way way[PLAYERS];
    Place place[PLAYERS];
    Reached by[PLAYERS];
    int leak;
} Answer;

/* What the policies share is done once, for those that split-step (1) and those that do not (0). */
typedef struct {
    int known;
    double run[PLAYERS], reaction[PLAYERS];
    Extent extent[PLAYERS][MOST_INSTANTS];
} Shared;

static void work_out(const Scenario *scenario, const Contact *contact, const Track *track,
                     const double reaction[PLAYERS], int split_step, Shared *shared) {
    double found = contact->time - (split_step ? scenario->split_step_lead : 0.0);
    for (int who = LEFT; who <= RIGHT; who++) {
        const Player *player = &scenario->player[who];
        shared->run[who] = straight_run(player, found - player->run_in_delay);
        shared->reaction[who] = reaction[who] + (split_step ? 0.0 : scenario->lateness);
        for (int i = 0; i < track->count; i++)
            shared->extent[who][i] = extent_of(player, &track->instant[i], shared->reaction[who]);
    }
    shared->known = 1;
}

static double highest_reach(const Player *player) {
    return player->shoulder + player->arm[STRETCH];
}

/* Where the ball passes the line at a depth, and whether it does before its second bounce. */
static Point passing(const Rally *rally, double depth, int *passes) {
    int early = rally->rebound.origin_y <= depth;
    const Flight *flight = early ? &rally->approach : &rally->rebound;
    Point at = position(flight, time_at_line(flight, depth));
    *passes = early || at.y <= depth + 1e-6;
    return at;
}

/* Where a ball that nobody reached got through, judged at the pair's mean depth. */
static int leak_of(const Scenario *scenario, Point from, const Rally *rally,
                   const Place place[PLAYERS]) {
    int passes;
    Point at = passing(rally, 0.5 * (place[LEFT].y + place[RIGHT].y), &passes);
    if (!passes) return SHORT;
    if (at.z > larger(highest_reach(&scenario->player[LEFT]),
                      highest_reach(&scenario->player[RIGHT])))
        return OVER;
    double near = from.x >= 0.0 ? 1.0 : -1.0;
    double outside = at.x > place[RIGHT].x ? 1.0 : at.x < place[LEFT].x ? -1.0 : 0.0;
    if (outside == 0.0) return THROUGH_MIDDLE;
    return outside == near ? THROUGH_LINE : THROUGH_CROSS;
}

/* The first policy that has the player in the same place, and as late: they share the answer. */
static int64_t first_alike(const Scenario *scenario, int64_t p, const Answer *answers, int who) {
    Place mine = answers[p].place[who];
    for (int64_t other = 0; other < p; other++)
        if (scenario->policy[other].split_step == scenario->policy[p].split_step &&
            answers[other].place[who].x == mine.x && answers[other].place[who].y == mine.y)
            return other;
    return p;
}

/* Let every policy face the same rally. */
static void answer_all(const Scenario *scenario, int direction, const Contact *contact,
                       const Rally *rally, const double *uniform, Answer *answers) {
    double reaction[PLAYERS];
    for (int who = LEFT; who <= RIGHT; who++)
        reaction[who] = larger(quantile(&scenario->player[who].reaction,
                                        uniform[REACTION_LEFT + who]),
                               scenario->shortest_reaction);
    Track track;
    track_of(rally, &track);
    Shared shared[2];
    shared[0].known = shared[1].known = 0;
    for (int64_t p = 0; p < scenario->policies; p++) {
        const Policy *policy = &scenario->policy[p];
        Answer *answer = &answers[p];
        Shared *mine = &shared[policy->split_step];
        if (!mine->known)
            work_out(scenario, contact, &track, reaction, policy->split_step != 0, mine);
        ways(scenario, policy, direction, contact->at, answer->way);
        for (int who = LEFT; who <= RIGHT; who++) {
            answer->place[who] = place_on(&answer->way[who], mine->run[who]);
            int64_t alike = first_alike(scenario, p, answers, who);
            answer->by[who] =
                alike < p ? answers[alike].by[who]
                          : who_reaches(&scenario->player[who], rally, &track, mine->extent[who],
                                        answer->place[who], mine->reaction[who]);
        }
        int reached = answer->by[LEFT].stretch || answer->by[RIGHT].stretch;
        answer->leak = reached ? REACHED : leak_of(scenario, contact->at, rally, answer->place);
    }
}

/* --- whole shots ---------------------------------------------------------------------------- */

typedef struct {
    Contact contact;
    int64_t kind, lane;
    Launch launch;
    int fate;
    Rally rally;
} Shot;

/* The rally and the answers are those of a shot in play only. */
/* The parts of the work in their order: a timed run may stop after any of them. */
enum { DRAWS = 1, RETURN_OF_SERVE, AIM_AND_ERROR, FLIGHT_AND_BOUNCE, ANSWERS, COUNTING };

static void play_shot(const Scenario *scenario, int direction, const double *uniform,
                      int64_t parts, Shot *shot, Answer *answers) {
    if (parts < RETURN_OF_SERVE) return;
    shot->contact = fly_return(scenario, direction, uniform);
    if (parts < AIM_AND_ERROR) return;
    shot->kind = choose(&scenario->shots, uniform[SHOT]);
    shot->lane = choose(&scenario->lanes[direction], uniform[LANE]);
    Point from = shot->contact.at;
    shot->launch = strike(scenario, shot->kind, shot->lane, from, uniform);
    if (parts < FLIGHT_AND_BOUNCE) return;
    shot->fate = follow_through(&scenario->ball, from, shot->launch, &shot->rally);
    if (shot->fate == IN_PLAY && parts >= ANSWERS)
        answer_all(scenario, direction, &shot->contact, &shot->rally, uniform, answers);
}

/* --- sim/tally.py --------------------------------------------------------------------------- */

enum { REACHED_BY_LEFT, REACHED_BY_RIGHT, BOTH_IN_CONTROL, BY_PLAYER };
enum {
    LEFT_ARRIVED, RIGHT_ARRIVED, LEFT_DEPTH, RIGHT_DEPTH, SPACING, NARROWEST, WIDEST, CONTACT_TIME,
    ON_THE_WAY
};
enum { PAIRS = 4 };

/* The counts of one return direction, in the layout of the package's tallies; first axes:
 * replicate and, but for the fates, policy. */
typedef struct {
    int64_t *fates;      /* (SHOTS, LANES, FATES) */
    int64_t *outcomes;   /* (SHOTS, LANES, OUTCOMES) */
    int64_t *by_player;  /* (SHOTS, LANES, BY_PLAYER) */
    int64_t *pairs;      /* (SHOTS, MEASURES, PAIRS): both, only the policy, only the baseline,
                            neither; reached comes first, in control second */
    int64_t *leaks;      /* (SHOTS, LEAKS) */
    int64_t *lateral;    /* (STRIPS, OUTCOMES) */
    double *on_the_way;  /* (ON_THE_WAY) */
} Counts;

static int outcome_of(const Answer *answer) {
    if (answer->by[LEFT].control || answer->by[RIGHT].control) return IN_CONTROL;
    return answer->by[LEFT].stretch || answer->by[RIGHT].stretch ? AT_FULL_STRETCH : THROUGH;
}

/* Across which strip, a foot wide, of the line at PASSING_DEPTH the ball passes. */
static int64_t strip_of(const Rally *rally) {
    int passes;
    double across = passing(rally, -PASSING_DEPTH, &passes).x - FIRST_LATERAL_EDGE;
    return (int64_t)clip(floor(across), 0.0, STRIPS - 1);
}

/* `row`: the replicate's and the policy's place in the first axes. */
static void count_answer(const Counts *counts, int64_t row, const Shot *shot, int64_t strip,
                         const Answer *answer, int baseline) {
    int64_t stroke = row * SHOTS + shot->kind, cell = stroke * LANES + shot->lane;
    const Reached *left = &answer->by[LEFT], *right = &answer->by[RIGHT];
    int outcome = outcome_of(answer);
    counts->outcomes[cell * OUTCOMES + outcome]++;
    counts->lateral[(row * STRIPS + strip) * OUTCOMES + outcome]++;
    int64_t *by_player = counts->by_player + cell * BY_PLAYER;
    by_player[REACHED_BY_LEFT] += left->stretch;
    by_player[REACHED_BY_RIGHT] += right->stretch;
    by_player[BOTH_IN_CONTROL] += left->control && right->control;
    int64_t *pairs = counts->pairs + stroke * MEASURES * PAIRS;
    pairs[2 * (outcome < AT_FULL_STRETCH) + (baseline < AT_FULL_STRETCH)]++;
    pairs[PAIRS + 2 * (outcome < IN_CONTROL) + (baseline < IN_CONTROL)]++;
    if (answer->leak != REACHED) counts->leaks[stroke * LEAKS + answer->leak]++;
}

static inline double spacing(Place left, Place right) {
    return distance(right.x - left.x, right.y - left.y);
}

static inline int has_arrived(Place place, Place goal) {
    return square(place.x - goal.x) + square(place.y - goal.y) < square(ARRIVED_WITHIN);
}

static void add_on_the_way(const Answer *answer, double contact_time,
                           double run[INSTANTS_ON_THE_WAY][PLAYERS], double sums[ON_THE_WAY]) {
    const Way *way = answer->way;
    const Place *place = answer->place;
    double last = spacing(place[LEFT], place[RIGHT]), narrowest = last, widest = last;
    for (int k = 0; k < INSTANTS_ON_THE_WAY; k++) {
        double apart =
            spacing(place_on(&way[LEFT], run[k][LEFT]), place_on(&way[RIGHT], run[k][RIGHT]));
        narrowest = smaller(narrowest, apart);
        widest = larger(widest, apart);
    }
    sums[LEFT_ARRIVED] += has_arrived(place[LEFT], way[LEFT].goal);
    sums[RIGHT_ARRIVED] += has_arrived(place[RIGHT], way[RIGHT].goal);
    sums[LEFT_DEPTH] -= place[LEFT].y;
    sums[RIGHT_DEPTH] -= place[RIGHT].y;
    sums[SPACING] += last;
    sums[NARROWEST] += narrowest;
    sums[WIDEST] += widest;
    sums[CONTACT_TIME] += contact_time;
}

static void count(const Scenario *scenario, const Shot *shot, const Answer *answers,
                  int64_t replicate, const Counts *counts) {
    int64_t cell = (replicate * SHOTS + shot->kind) * LANES + shot->lane;
    counts->fates[cell * FATES + shot->fate]++;
    if (shot->fate != IN_PLAY) return;
    double time = shot->contact.time, run[INSTANTS_ON_THE_WAY][PLAYERS];
    for (int k = 0; k < INSTANTS_ON_THE_WAY; k++)
        for (int who = LEFT; who <= RIGHT; who++) {
            const Player *player = &scenario->player[who];
            run[k][who] = straight_run(player, ON_THE_WAY_AT[k] * time - player->run_in_delay);
        }
    int64_t strip = strip_of(&shot->rally);
    int baseline = outcome_of(&answers[scenario->baseline]);
    for (int64_t p = 0; p < scenario->policies; p++) {
        int64_t row = replicate * scenario->policies + p;
        count_answer(counts, row, shot, strip, &answers[p], baseline);
        add_on_the_way(&answers[p], time, run, counts->on_the_way + row * ON_THE_WAY);
    }
}

/* --- for scalar.py -------------------------------------------------------------------------- */

/* So many shots make a replicate, but for the last one. */
static int64_t shots_of_replicate(int64_t shots) { return (shots + REPLICATES - 1) / REPLICATES; }

/* Shot by shot, and counted: `uniform` has shape (COLUMNS, shots), `struck` (7, shots): contact
 * time, x, y, z and launch x, y, z; `fate` (shots,), `control` and `stretch` (policies, PLAYERS,
 * shots), `leak` (policies, shots); the last three stay as they are where the ball is not in play.
 */
void play(const Scenario *scenario, int64_t direction, int64_t shots, const double *uniform,
          double *struck, int8_t *fate, int8_t *control, int8_t *stretch, int8_t *leak,
          const Counts *counts) {
    Answer answers[scenario->policies];
    Shot shot;
    for (int64_t i = 0; i < shots; i++) {
        double numbers[COLUMNS];
        for (int column = 0; column < COLUMNS; column++)
            numbers[column] = uniform[column * shots + i];
        play_shot(scenario, (int)direction, numbers, COUNTING, &shot, answers);
        count(scenario, &shot, answers, i / shots_of_replicate(shots), counts);
        Point at = shot.contact.at;
        double values[7] = {shot.contact.time, at.x, at.y, at.z,
                            shot.launch.x, shot.launch.y, shot.launch.z};
        for (int k = 0; k < 7; k++) struck[k * shots + i] = values[k];
        fate[i] = (int8_t)shot.fate;
        if (shot.fate != IN_PLAY) continue;
        for (int64_t p = 0; p < scenario->policies; p++) {
            leak[p * shots + i] = (int8_t)answers[p].leak;
            for (int who = LEFT; who <= RIGHT; who++) {
                int64_t place = (p * PLAYERS + who) * shots + i;
                control[place] = (int8_t)answers[p].by[who].control;
                stretch[place] = (int8_t)answers[p].by[who].stretch;
            }
        }
    }
}

/* The work of one return direction, from numbers of its own to counts; or its first `parts`. */
void run(const Scenario *scenario, int64_t direction, int64_t shots, uint64_t seed, int64_t parts,
         const Counts *counts) {
    Generator generator = seeded(seed);
    Answer answers[scenario->policies];
    Shot shot;
    for (int64_t i = 0; i < shots; i++) {
        double numbers[COLUMNS];
        for (int column = 0; column < COLUMNS; column++)
            numbers[column] = uniform_number(&generator);
        play_shot(scenario, (int)direction, numbers, parts, &shot, answers);
        if (parts < COUNTING) continue;
        count(scenario, &shot, answers, i / shots_of_replicate(shots), counts);
    }
}

/* So that scalar.py can see that both sides lay the scenario out alike. */
int64_t size_of_scenario(void) { return (int64_t)sizeof(Scenario); }
