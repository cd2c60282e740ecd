"""Random command lines: the commands' own options, with right, wrong, missing and extreme values."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from tests.campaign.drawing import Draw

COMMANDS = ("estimate", "example", "list", "schema", "sweep", "card", "verify")
TEXTS = (
    "",
    " ",
    "-",
    "--",
    "---",
    "x",
    "0",
    "-1",
    "nan",
    "1e999",
    "ä",
    "a" * 300,
    "*",
    "$(x)",
    "\n",
    "🔥",
)
KEYS = (
    "windings.secondary.turns", "leads.length", "leads.area", "mains.voltage", "core.stack_depth", "core.joint_gap",
    "load.resistance", "temperature", "core.type", "title", "windings.primary.conductor", "no.such.key", "", ".",
    "core", "core.", ".core", "core..joint", "windings.primary.extra.turns", "core.second.spacing",
    "leads.joints.dirty",
)  # fmt: skip
RANGES = (
    "1:3", "3:1", "1:1", "1", "1,2", "1,,2", ",", "1:2:0", "1:2:-1", "1:2:0.5", "1:9:log3", "0:9:log3", "1:9:log2.5",
    "1:9:log0", "1:1e300", "1:2mm", "1:2 mm", "35,50mm2", "20:60:20degC", "a", "true,false", "nan", "inf:nan", "-1:1",
    "1:100000000", "1e-300:1e300:log5", "1:2:3:4", ":", "::", "1:", ":2", "1 : 2", "١:٢", "+-1mm", "1:2;3",
)  # fmt: skip
TOLERANCES = ("+-1mm", "+-1%", "+-0", "+-", "1mm", "+-1", "+-1e300mm", "±2%", "+--1mm", "+-1 furlong", "+-nan%", "+-1K")
RESULTS = (
    "short_circuit.secondary_current_rms_A", "saturation.margin", "idle.current_rms_A", "load.power_W", "no.such_A",
    "build.cores", "", "load", "idle.harmonics_A.3",
)  # fmt: skip
PARTS = ("remedies", "short-test", "first-peaks", "work-piece", "no-part", "", "REMEDIES", "bands", "pictures")


def command_line(seed: int, folder: Path) -> list[str]:
    """Return the arguments of one command; files lie in `folder`, see `files`."""
    draw = Draw(seed, 2)
    if draw.chance(0.04):
        return [draw.of(TEXTS) for _ in range(draw.whole(0, 3))]
    name = draw.weighted(dict(zip(COMMANDS, (4.0, 1.0, 1.0, 0.4, 7.0, 3.0, 0.0), strict=True)))
    if draw.chance(0.03):
        name = draw.of([name[:-1], name.upper(), name + "s", "-" + name])
    arguments = {
        "estimate": _estimate,
        "sweep": _sweep,
        "card": _card,
        "list": lambda d, _: [d.of(["steels", "metals", "conductors", "laminations", "wires", "", "STEELS"])],
        "example": lambda d, _: [d.of(["bandsaw_brazing", "none", "", "../x", "bandsaw_brazing.toml"])],
    }.get(name, lambda d, _: [])(draw, folder)
    for _ in range(draw.weighted({0: 6.0, 1: 2.0, 3: 1.0})):
        arguments = _damaged(draw, arguments)
    return [name, *arguments]


def files(folder: Path, job: str) -> None:
    """Put the files that command lines name into a folder."""
    folder.mkdir(exist_ok=True)
    (folder / "job.toml").write_text(job)
    (folder / "bad.toml").write_text(job.replace("turns", "truns"))
    (folder / "empty.toml").write_text("")
    (folder / "other.sqlite").write_text("not a store")
    (folder / "locked").mkdir(exist_ok=True)
    (folder / "locked").chmod(0o500)


def _job(draw: Draw, folder: Path) -> str:
    name = draw.weighted(
        {"job.toml": 8.0, "bad.toml": 1.0, "empty.toml": 0.5, "no.toml": 0.5, ".": 0.5, "other.sqlite": 0.3}
    )
    return str(folder / name)


def _output(draw: Draw, folder: Path, *, suffix: str) -> str:
    places = {
        f"out{suffix}": 4.0,
        f"no/such/out{suffix}": 1.0,
        "job.toml/out": 1.0,
        ".": 1.0,
        f"locked/out{suffix}": 1.0,
    }
    return "/dev/full" if draw.chance(0.15) else str(folder / draw.weighted(places))


def _estimate(draw: Draw, folder: Path) -> list[str]:
    found = [_job(draw, folder)]
    if draw.chance(0.4):
        found += ["--json", draw.of(["-", _output(draw, folder, suffix=".json")])]
    if draw.chance(0.1):
        found += ["--sheet", draw.of(["-", _output(draw, folder, suffix=".html")])]
    if draw.chance(0.1):
        found += ["--vtu", _output(draw, folder, suffix=".vtu")]
    if draw.chance(0.05):
        found += ["--figures", _output(draw, folder, suffix="")]
    found += [flag for flag in ("--quiet", "--verbose") if draw.chance(0.3)]
    return found


def _card(draw: Draw, folder: Path) -> list[str]:
    found = [_job(draw, folder)]
    if draw.chance(0.5):
        found += ["--json", draw.of(["-", _output(draw, folder, suffix=".json")])]
    return found


def _sweep(draw: Draw, folder: Path) -> list[str]:
    found = [_job(draw, folder)]
    for _ in range(draw.weighted({1: 6.0, 2: 2.0, 0: 1.0})):
        key = draw.of(KEYS[:8]) if draw.chance(0.6) else draw.of(KEYS)
        found += ["--vary", f"{key}={draw.of(RANGES)}"]
    options: list[tuple[float, Callable[[], list[str]]]] = [
        (0.1, lambda: ["--zip"]),
        (0.2, lambda: ["--within", f"{draw.of(KEYS)}={draw.of(TOLERANCES)}"]),
        (0.15, lambda: ["--sample", draw.of(["1", "2", "0", "-1", "x", "1e3"])]),
        (0.1, lambda: ["--seed", draw.of(["0", "-1", "99999999999999999999", "x"])]),
        (0.15, lambda: ["--find", f"{draw.of(RESULTS)}={draw.of(['1', '1e999', 'x', '', '1500'])}"]),
        (0.15, lambda: ["--along", f"{draw.of(KEYS)}={draw.of(['0.5:2m', '2:1m', '1:1', 'x', '1:2', '0:1e300m'])}"]),
        (0.3, lambda: ["--out", _output(draw, folder, suffix=".csv")]),
        (0.1, lambda: ["--store", _output(draw, folder, suffix=".sqlite")]),
        (0.05, lambda: ["--store", str(folder / "other.sqlite")]),
        (0.15, lambda: ["--resume"]),
        (0.08, lambda: ["--workers", draw.of(["0", "-1", "257", "x", "1"])]),
        (0.03, lambda: ["--scheduler", draw.of(["", "tcp://", "nonsense", "tcp://127.0.0.1:1"])]),
        (0.25, lambda: ["--with", draw.of(PARTS)]),
        (0.2, lambda: ["--sort", draw.of(["", "-", "--"]) + draw.of(RESULTS)]),
        (0.2, lambda: ["--keep", draw.of(["fits", "breaker holds", "load.power_W > 1", "x >", "a > b", "", "> 1"])]),
        (0.15, lambda: ["--front", draw.of(["load.power_W:max,idle.current_rms_A:min", "a:max", "x", "a:b,c:d", ""])]),
        (0.15, lambda: ["--top", draw.of(["1", "0", "-3", "99999999999", "x"])]),
        (0.3, lambda: ["--quiet"]),
    ]
    for probability, option in options:
        if draw.chance(probability):
            found += option()
    return found


def _damaged(draw: Draw, arguments: list[str]) -> list[str]:
    """Drop, double, exchange or overwrite an argument, or put one in."""
    place = draw.whole(0, len(arguments))
    what = draw.of(["drop", "double", "insert", "overwrite", "flag"])
    if what == "drop":
        return arguments[:place] + arguments[place + 1 :]
    if what == "double":
        return arguments[: place + 1] + arguments[place:]
    if what == "insert":
        return [*arguments[:place], draw.of(TEXTS), *arguments[place:]]
    if what == "flag":
        return [
            *arguments[:place],
            draw.of(["--no-such", "-x", "-q", "--json", "--help", "--vary"]),
            *arguments[place:],
        ]
    return [*arguments[:place], draw.of(TEXTS), *arguments[place + 1 :]]
