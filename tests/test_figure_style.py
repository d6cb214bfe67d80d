"""One style for every figure the program makes: to scale, legible, in our colours, in plain words.

What figures there are stands in `tests.figure_makers`.
"""

from __future__ import annotations

import re
from functools import lru_cache
from itertools import combinations, pairwise
from xml.etree import ElementTree

import numpy as np
import pytest
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.font_manager import findfont, get_font
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from sim import palette
from sim.figures import cells, letters, style
from tests.figure_makers import MAKERS, WITH_COURTS, WITHOUT_ESTIMATES
from tests.legibility import (
    EYES,
    Boxes,
    boxes,
    colours,
    contrast,
    cut_off,
    difference,
    grounds,
    lightness,
    linear,
    overlapping,
    texts,
    words,
)

# Enough to tell where words and colours are, and a quarter of the pixels of the files.
_DOTS_PER_INCH = 90
OURS = {
    colour
    for value in vars(palette).values()
    for colour in (value.values() if isinstance(value, dict) else [value])
    if isinstance(colour, str) and re.fullmatch("#[0-9a-f]{6}", colour)
}
# Words of statistics and game theory that no coach should have to look up, and our own code's.
JARGON = (
    "exploitab|jackknife|sobol|first.order|total.order|indices|equilibri|nash|minimax|payoff|"
    "bonferroni|holm|quantile|percentile|variance|standard (error|deviation)|p-value|posterior|"
    "prior|likelihood|replicate|quasi|bootstrap|paired|confidence|estimator|monte carlo|credible|"
    "interaction|in_control|baseline_|fan_of|nan"
)
# A figure this many times as high as it is wide fills two screens of a telephone.
_LONGEST = 2.0


@lru_cache
def figures(maker: str, odd: bool) -> dict[str, Figure]:
    """A maker's figures: in feet with usual names, in metres with odd ones."""
    made = dict(MAKERS[maker](odd, "metric" if odd else "us"))
    for figure in made.values():
        figure.set_dpi(_DOTS_PER_INCH)
    return made


@lru_cache
def found_boxes(maker: str, odd: bool) -> dict[str, Boxes]:
    return {stem: boxes(figure) for stem, figure in figures(maker, odd).items()}


@pytest.mark.parametrize("odd", [False, True], ids=["usual", "odd"])
@pytest.mark.parametrize("maker", MAKERS)
class TestEveryFigure:
    def test_words_are_large_inside_and_apart(self, maker: str, odd: bool) -> None:
        for stem, figure in figures(maker, odd).items():
            assert figure.get_figwidth() == pytest.approx(7.0)
            # On a telephone, 320 px for 7 in, that leaves 8 px: still readable.
            assert min(text.get_size() for text in texts(figure)) >= style.SMALL, stem
            found = found_boxes(maker, odd)[stem]
            assert cut_off(figure, found) == [], stem
            assert overlapping(figure, found) == [], stem

    def test_words_stand_out_from_their_ground(self, maker: str, odd: bool) -> None:
        """4.5 to 1: W3C, Web Content Accessibility Guidelines 2.1, criterion 1.4.3 (memory)."""
        plain, seen = 0, 0
        for stem, figure in figures(maker, odd).items():
            for text, ground, part in grounds(figure, found_boxes(maker, odd)[stem]):
                seen += 1
                if part > 0.8:
                    plain += 1
                    ratio = contrast(to_hex(text.get_color()), ground)
                    assert ratio >= 4.5, (stem, text.get_text(), ground)
        assert plain > 0.9 * seen

    def test_colours_are_ours_or_shades_between(self, maker: str, odd: bool) -> None:
        for stem, figure in figures(maker, odd).items():
            others = {colour for colour in colours(figure) if not is_ours(colour)}
            assert others == set(), stem

    def test_courts_are_to_scale(self, maker: str, odd: bool) -> None:
        nets = 0
        for figure in figures(maker, odd).values():
            for axes in figure.axes:
                axes.apply_aspect()
                if any(line.get_gid() == "net" for line in axes.findobj(Line2D)):
                    nets += 1
                    one = axes.transData.transform([(0.0, 0.0), (1.0, 0.0), (0.0, 1.0)])
                    assert one[1][0] - one[0][0] == pytest.approx(one[2][1] - one[0][1], rel=1e-6)
        assert (nets > 0) == (maker in WITH_COURTS)

    def test_the_error_is_shown_or_told(self, maker: str, odd: bool) -> None:
        told = re.compile(r"95 %|known to|cannot be told")
        for stem, figure in figures(maker, odd).items():
            told_here = told.search(" ".join(words(figure))) is not None
            assert told_here == (maker not in WITHOUT_ESTIMATES), stem

    def test_words_are_the_trades(self, maker: str, odd: bool) -> None:
        for stem, figure in figures(maker, odd).items():
            text = " ".join(words(figure))
            assert re.search(rf"\b({JARGON})", text, flags=re.IGNORECASE) is None, (stem, text)


@pytest.mark.parametrize("maker", MAKERS)
class TestFiles:
    def test_the_same_twice_with_text_as_text(self, maker: str) -> None:
        again = dict(MAKERS[maker](False, "us"))
        assert list(again) == list(figures(maker, False))
        for stem, figure in again.items():
            figure.set_dpi(_DOTS_PER_INCH)
            svg = style.to_svg(figure)
            assert svg == style.to_svg(figures(maker, False)[stem]), stem
            root = ElementTree.fromstring(svg)
            nodes = [node for node in root.iter() if node.tag.endswith("}text")]
            found = {" ".join("".join(node.itertext()).split()) for node in nodes}
            lines = {" ".join(line.split()) for text in words(figure) for line in text.splitlines()}
            assert lines <= found, stem
        assert style.to_png(figure) == style.to_png(figures(maker, False)[stem])

    def test_no_figure_is_longer_than_two_screens(self, maker: str) -> None:
        for stem, figure in figures(maker, False).items():
            assert figure.get_figheight() < _LONGEST * figure.get_figwidth(), stem


def is_ours(colour: str) -> bool:
    return colour in OURS or is_shade(colour)


def is_shade(colour: str) -> bool:
    """Whether a colour is between the ends of the shades of maps, to the rounding of its bytes."""
    light, dark, mine = (
        np.array([int(each[k : k + 2], 16) for k in (1, 3, 5)], float)
        for each in (cells.LIGHTEST, cells.DARKEST, colour)
    )
    part = (mine - light) @ (dark - light) / ((dark - light) @ (dark - light))
    return bool(np.abs(light + np.clip(part, 0.0, 1.0) * (dark - light) - mine).max() <= 1.0)


class TestColours:
    def test_what_is_not_ours_is_found(self) -> None:
        assert len(OURS) > 12
        assert is_ours(palette.INK)
        assert is_ours(to_hex(cells.Shades(0.0, 1.0).fill(0.3)))
        assert not is_ours("#ff0000")
        assert not is_ours("#1f77b4")

    @pytest.mark.parametrize("eyes", EYES)
    @pytest.mark.parametrize("family", [palette.PLAYERS, palette.DIRECTIONS])
    def test_what_has_a_colour_of_its_own_is_told_apart(
        self, family: dict[str, str], eyes: str
    ) -> None:
        for first, second in combinations(family.values(), 2):
            # About 2.3 is just noticeable (memory); small marks need many times that.
            assert difference(EYES[eyes] @ linear(first), EYES[eyes] @ linear(second)) > 40.0

    @pytest.mark.parametrize("eyes", EYES)
    def test_balls_that_got_through_are_told_from_the_players(self, eyes: str) -> None:
        # They have marks of their own, too: half of that is enough.
        for player in palette.PLAYERS.values():
            through = EYES[eyes] @ linear(palette.THROUGH)
            assert difference(through, EYES[eyes] @ linear(player)) > 20.0

    def test_grey_print_tells_them_apart(self) -> None:
        # Ten times what is just noticeable side by side (memory).
        assert abs(np.subtract(*map(lightness, palette.PLAYERS.values()))) > 25.0
        # Lines have dashes and names of their own besides.
        for first, second in combinations(palette.DIRECTIONS.values(), 2):
            assert abs(lightness(first) - lightness(second)) > 12.0
        assert len({str(dashes) for dashes in style.DASHES.values()}) == len(palette.DIRECTIONS)

    @pytest.mark.parametrize("eyes", EYES)
    def test_shades_darken_evenly_for_all_eyes(self, eyes: str) -> None:
        seen = [
            EYES[eyes] @ linear(to_hex(cells.Shades(0.0, 5.0).fill(float(step))))
            for step in range(6)
        ]
        lights = [float(np.clip(TO_LIGHT @ colour, 0.0, 1.0)) for colour in seen]
        assert all(dark < light for light, dark in pairwise(lights))
        # Side by side on a map, steps need several times what is just noticeable.
        assert min(difference(one, other) for one, other in pairwise(seen)) > 8.0
        # The lightest is told from the white of what is not known.
        assert difference(EYES[eyes] @ linear(palette.PAPER), seen[0]) > 6.0

    def test_words_stand_out_on_every_shade(self) -> None:
        shades = cells.Shades(0.0, 1.0)
        fills = [shades.fill(float(part)) for part in np.linspace(0.0, 1.0, 101)]
        for fill in fills:
            assert cells.contrast(cells.words_on(fill), fill) >= 4.5
        # From light to dark they change once.
        changes = sum(one != other for one, other in pairwise(map(cells.words_on, fills)))
        assert changes == 1

    @pytest.mark.parametrize(
        ("maker", "stem", "maps"), [("approach", "returns", 2), ("counter", "payoffs", 3)]
    )
    def test_the_same_number_looks_the_same(self, maker: str, stem: str, maps: int) -> None:
        drawn = [axes for axes in figures(maker, False)[stem].axes if len(axes.texts) > 2]
        assert len(drawn) == maps
        looks: dict[tuple[int, str], set[tuple[str, str]]] = {}
        for place, axes in enumerate(drawn):
            fills = {
                (
                    patch.get_x() + 0.5 * patch.get_width(),
                    patch.get_y() + 0.5 * patch.get_height(),
                ): to_hex(patch.get_facecolor())
                for patch in axes.findobj(Rectangle)
                if patch is not axes.patch
            }
            # Each map of returns has a scale of its own.
            scale = place if maker == "approach" else 0
            for text in axes.texts:
                if text.get_position() in fills:
                    look = fills[text.get_position()], to_hex(text.get_color())
                    looks.setdefault((scale, text.get_text()), set()).add(look)
        assert len(looks) > 8
        assert all(len(each) == 1 for each in looks.values())


TO_LIGHT = np.array([0.2126, 0.7152, 0.0722])


class TestOutline:
    COLUMNS = cells.side_by_side(np.arange(4.0))
    ROWS = cells.side_by_side(np.arange(3.0))

    def sides(self, columns: np.ndarray, chosen: list[tuple[int, int]]) -> set[frozenset]:
        """The strokes that are drawn, each as the places of its two ends."""
        cell = np.zeros((len(columns), len(self.ROWS)), bool)
        for place in chosen:
            cell[place] = True
        axes = style.add_axes(style.new_figure(100.0), 0.0, 0.0, 100.0, 100.0)
        cells.draw_outline(axes, columns, self.ROWS, cell)
        strokes = [line for line in axes.findobj(Line2D) if line.get_color() == palette.INK]
        return {
            frozenset(zip(map(float, line.get_xdata()), map(float, line.get_ydata()), strict=True))
            for line in strokes
        }

    def test_no_line_between_two_that_are_chosen(self) -> None:
        found = self.sides(self.COLUMNS, [(0, 0), (1, 0)])
        assert frozenset([(1.0, 0.0), (1.0, 1.0)]) not in found
        # Two ends, two tops and two bottoms.
        assert len(found) == 6
        assert frozenset([(2.0, 0.0), (2.0, 1.0)]) in found

    def test_cells_that_do_not_touch_are_closed(self) -> None:
        apart = self.COLUMNS + np.array([[0.0], [0.5], [0.5]])
        assert len(self.sides(apart, [(0, 0), (1, 0)])) == 8

    def test_all_around_the_edge_of_the_map(self) -> None:
        every = [(column, row) for column in range(3) for row in range(2)]
        assert len(self.sides(self.COLUMNS, every)) == 2 * 3 + 2 * 2
        assert self.sides(self.COLUMNS, []) == set()


class TestLetters:
    def test_letters_we_lack_are_looked_for_in_installed_fonts_only(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        # Comes with matplotlib, has this letter (a circle around what stands before), ours has not.
        other, letter = "STIXGeneral", "\u20dd"
        assert ord(letter) not in get_font(findfont(letters.OUR_FONT)).get_charmap()
        assert ord(letter) in get_font(findfont(other)).get_charmap()
        monkeypatch.setattr(letters, "OTHER_SCRIPTS", ("Nowhere Installed Sans", other))
        assert letters.families("follow") == ["sans-serif"]
        assert letters.families(f"two\nlines {letter}") == ["sans-serif", other]

    def test_another_font_draws_them(self, monkeypatch: pytest.MonkeyPatch) -> None:
        pictures = []
        for fonts in ((), ("STIXGeneral",)):
            monkeypatch.setattr(letters, "OTHER_SCRIPTS", fonts)
            figure = style.new_figure(60.0)
            with style.own_settings():
                style.write(figure, 12.0, 40.0, "\u211c\u20dd")
            pictures.append(style.to_png(figure))
            # Files for pages keep the letters: the reader may have a font for them.
            assert "\u20dd" in style.to_svg(figure).decode()
        assert pictures[0] != pictures[1]

    def test_a_number_stays_with_its_unit(self) -> None:
        lines = style.wrapped("all together at 95 % and 2.4 m from 100 of 100", 80.0, 13.0, most=9)
        for pair in ("95 %", "2.4 m", "100 of 100"):
            assert any(pair in line for line in lines), lines
