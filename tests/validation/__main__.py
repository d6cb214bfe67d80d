"""``python -m tests.validation`` writes the page and its pictures."""

from sim.figures import style
from tests.validation.figures import calculated, estimated
from tests.validation.page import PAGE, PICTURES, page


def main() -> None:
    PICTURES.mkdir(parents=True, exist_ok=True)
    for stem, figure in [*calculated(), *estimated()]:
        (PICTURES / f"{stem}.png").write_bytes(style.to_png(figure))
    PAGE.write_text(page(), encoding="utf-8", newline="")


if __name__ == "__main__":
    main()
