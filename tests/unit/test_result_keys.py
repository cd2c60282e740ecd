"""Keys of the results: what is listed is what is written, and none changes without being told."""

from pathlib import Path

from fem.cli import run
from fem.estimation.stations.in_order import STATIONS
from fem.quantity import Unknown, declared

FROZEN = Path(__file__).with_name("result_keys.txt")
CHANGED = (
    "a result's key or unit has changed: scripts and spreadsheets read these. If it must be, say so in README under "
    "Changes and bring tests/unit/result_keys.txt up to date"
)


def walked() -> list[str]:
    return [f"{station.key}.{one.key} {one.unit}".rstrip() for station in STATIONS for one in declared(station.result)]


def test_keys_and_units_stay_as_they_are():
    assert sorted(walked()) == FROZEN.read_text("utf-8").splitlines(), CHANGED


def test_what_an_estimate_writes_are_the_listed_keys(hand_made):
    listed = {line.split()[0] for line in walked()}
    found = {
        f"{key}.{name}" for key, section in hand_made.to_dict().items() if isinstance(section, dict) for name in section
    }
    sections = {station.key for station in STATIONS if not isinstance(getattr(hand_made, station.key), Unknown)}
    assert {key for key in found if key.split(".")[0] in sections} == {
        ".".join(key.split(".")[:2]) for key in listed if key.split(".")[0] in sections
    }


def test_the_table_of_results_names_every_key(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "200")
    assert run(["list", "results"]) == 0
    out, err = capsys.readouterr()
    assert [line.split()[0] for line in out.splitlines()[1:]] == [line.split()[0] for line in walked()]
    assert err == ""
