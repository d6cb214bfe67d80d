"""A slow, plain, one-shot-at-a-time reference of the doubles third-shot model.

It follows `sim/docs/model.md` section by section, a module for each, with other methods than the
package and no code of it: scalar code, adaptive integration at tight tolerance for every flight in
three dimensions, general root finders for the aim, a dense search over time for who reaches the
ball. It draws no random number: everything that is random in a simulation is an argument here.

Read the modules in this order: `court`, `ball`, `flight`, `bounce`, `return_of_serve`, `run_in`,
`policies`, `draws`, `aim` (with `drive` and `solve`), `launch`, `fate`, `reach`, `spare_time`,
`search`, `answer`, `leaks`.

Feet, seconds, radians, feet per second and radians per second throughout. Times of the return of
serve count from the return strike; times of the third shot count from the opponents' contact.
"""
