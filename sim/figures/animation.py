"""Films of frames: when each is shown and how long, and their bytes as GIF or MP4."""

from __future__ import annotations

import io
import re
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from PIL import Image, ImageColor

from sim import palette
from sim.errors import Refused

# Bytes of a GIF at most, so that it can be sent and opened on a telephone.
MOST_BYTES: Final = 2_000_000
# And so many frames: they are in memory all at once.
MOST_FRAMES: Final = 250
# Pixels across, and ms from frame to frame: tried in turn until a GIF is small enough, first fewer
# frames, then smaller ones. A GIF counts hundredths of a second.
QUALITIES: Final = ((800, 50), (800, 70), (800, 100), (800, 150), (640, 150), (480, 150))
FILM_WIDTH: Final = 960
FILM_STEP: Final = 50
_TINTS: Final = (1.0, 0.85, 0.7, 0.55, 0.4, 0.25)

Frame = np.ndarray
Draw = Callable[[float, float], Frame]
Told = Callable[[int, int], None]


@dataclass(frozen=True)
class Stretch:
    """A stretch of a film up to the time ``ends`` (s), at a speed (of real speed).

    Its last frame is held for ``hold`` s.
    """

    ends: float
    speed: float
    hold: float


@dataclass(frozen=True)
class Shown:
    """A frame of the film: the time (s) it shows, how fast (of real speed), for how many ms."""

    time: float
    speed: float
    milliseconds: int


@dataclass(frozen=True)
class Film:
    """A finished film: its bytes, how many pixels wide, and its frames, one every ``step`` ms."""

    data: bytes
    width: int
    step: int
    shown: tuple[Shown, ...]

    @property
    def seconds(self) -> float:
        """How long it takes to see it once."""
        return sum(frame.milliseconds for frame in self.shown) / 1000.0


def timeline(stretches: Sequence[Stretch], step: int) -> tuple[Shown, ...]:
    """The frames of stretches that follow each other from time 0 on, one every ``step`` ms.

    Each stretch has a frame at its end, which is held, and others evenly before it; its speed is
    kept to within half a frame.

    >>> timeline([Stretch(0.0, 0.5, 0.5), Stretch(0.1, 0.5, 1.0)], 100)[1:]
    (Shown(time=0.05, speed=0.5, milliseconds=100), Shown(time=0.1, speed=0.5, milliseconds=1000))
    """
    frames: list[Shown] = []
    begins = 0.0
    for stretch in stretches:
        length = stretch.ends - begins
        count = max(round(length / stretch.speed * 1000.0 / step), 1)
        times = [begins + length * part / count for part in range(1, count)]
        frames += [Shown(time, stretch.speed, step) for time in times]
        held = step * max(round(stretch.hold * 1000.0 / step), 1)
        frames.append(Shown(stretch.ends, stretch.speed, held))
        begins = stretch.ends
    return tuple(frames)


def gif(
    drawing: Callable[[int], Draw],
    stretches: Sequence[Stretch],
    told: Told,
    most: int = MOST_BYTES,
) -> Film:
    """A film as a GIF of fewer than ``most`` bytes that starts again at its end.

    ``drawing`` gives what draws frames so many pixels wide: a time and a speed to an array of shape
    (height, width, 3). ``told`` is told how many frames are drawn, of how many. The film has the
    best of `QUALITIES` that stays below ``most`` and `MOST_FRAMES`, or the last.
    """
    for width, step in QUALITIES[:-1]:
        shown = timeline(stretches, step)
        if len(shown) <= MOST_FRAMES:
            film = _gif(drawing(width), shown, width, step, told)
            if len(film.data) < most:
                return film
    width, step = QUALITIES[-1]
    return _gif(drawing(width), timeline(stretches, step), width, step, told)


def _gif(draw: Draw, shown: tuple[Shown, ...], width: int, step: int, told: Told) -> Film:
    values = _palette()
    colours = Image.new("P", (1, 1))
    colours.putpalette(values)
    # One by one: the file keeps of each no more than what differs from the one before.
    frames = (
        Image.fromarray(frame).quantize(palette=colours, dither=Image.Dither.NONE)
        for frame in _drawn(draw, shown, told)
    )
    buffer = io.BytesIO()
    next(frames).save(
        buffer,
        format="gif",
        save_all=True,
        append_images=frames,
        duration=[frame.milliseconds for frame in shown],
        palette=values,
        loop=0,
        optimize=True,
        disposal=1,
    )
    return Film(buffer.getvalue(), width, step, shown)


def _palette() -> bytes:
    """One palette for all frames: white, ground, our colours and their tints on white."""
    colours = [palette.INK, palette.QUIET, palette.FAINT, palette.THROUGH]
    colours += [*palette.PLAYERS.values(), *palette.PLAYER_WORDS.values()]
    values = [255, 255, 255, *ImageColor.getrgb(palette.GROUND)[:3]]
    for colour in dict.fromkeys(colours):
        full = ImageColor.getrgb(colour)[:3]
        values += [round(255 + tint * (part - 255)) for tint in _TINTS for part in full]
    return bytes(values)


def _drawn(draw: Draw, shown: Sequence[Shown], told: Told) -> Iterable[Frame]:
    for number, frame in enumerate(shown):
        yield draw(frame.time, frame.speed)
        told(number + 1, len(shown))


def check_ffmpeg() -> None:
    """Make sure that MP4 files can be written. Raises `Refused`."""
    if shutil.which("ffmpeg") is None:
        raise Refused(
            "--format: mp4 needs the program ffmpeg, which is not on this machine's path; install "
            "it, or use --format gif"
        )


def ffmpeg_version() -> str:
    """Which ffmpeg codes films: another one may code them in other bytes. Raises `Refused`."""
    check_ffmpeg()
    said = subprocess.run(["ffmpeg", "-version"], capture_output=True, text=True, check=False)
    found = re.match(r"ffmpeg version (\S+)", said.stdout)
    return found[1] if found else "unknown"


def mp4(drawing: Callable[[int], Draw], stretches: Sequence[Stretch], told: Told) -> Film:
    """A film as MP4 (H.264, 4:2:0), which most telephones and tablets play.

    Arguments as for `gif`; frames must have even sides. Raises `Refused` where ffmpeg is missing
    or fails.
    """
    check_ffmpeg()
    shown, draw = timeline(stretches, FILM_STEP), drawing(FILM_WIDTH)
    height, width, _ = draw(shown[0].time, shown[0].speed).shape
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "film.mp4"
        with subprocess.Popen(
            _ffmpeg(width, height, path),
            stdin=subprocess.PIPE,
            stderr=subprocess.PIPE,
            # Out of reach of Ctrl-C, which is ours to handle.
            start_new_session=True,
        ) as process:
            _feed(process, _drawn(draw, shown, told), shown)
            said = process.stderr.read().decode(errors="replace") if process.stderr else ""
        if process.returncode:
            raise Refused(f"--format: ffmpeg cannot make the film: {said.strip()}; use gif")
        return Film(path.read_bytes(), FILM_WIDTH, FILM_STEP, shown)


def _ffmpeg(width: int, height: int, path: Path) -> list[str]:
    """The command that makes a film of raw frames from its input, the same bytes every time."""
    pictures = ["-f", "rawvideo", "-pix_fmt", "rgb24", "-s", f"{width}x{height}"]
    rate = ["-r", f"{1000 // FILM_STEP}"]
    coded = ["-c:v", "libx264", "-pix_fmt", "yuv420p", "-crf", "20", "-threads", "1"]
    plain = ["-map_metadata", "-1", "-fflags", "+bitexact", "-flags:v", "+bitexact"]
    # What players need comes first, so that a film from the net starts at once.
    start = ["-movflags", "+faststart"]
    quiet = ["-hide_banner", "-loglevel", "error", "-nostdin", "-y"]
    return ["ffmpeg", *quiet, *pictures, *rate, "-i", "-", *coded, *plain, *start, str(path)]


def _feed(
    process: subprocess.Popen[bytes], frames: Iterable[Frame], shown: Sequence[Shown]
) -> None:
    """Hand over frames one by one, each as often as it takes to show it so long."""
    if process.stdin is None:
        return
    try:
        for frame, each in zip(frames, shown, strict=True):
            raw = np.ascontiguousarray(frame).tobytes()
            for _ in range(each.milliseconds // FILM_STEP):
                process.stdin.write(raw)
        process.stdin.close()
    except BrokenPipeError:
        # It gave up, and its exit code and words say why. What waits to be written goes nowhere.
        with suppress(BrokenPipeError):
            process.stdin.close()
    except BaseException:
        process.kill()
        with suppress(BrokenPipeError):
            process.stdin.close()
        raise
