"""``jigs measured``: readings of the real guide correct its offsets and stay in the record."""

from __future__ import annotations

import json
import shutil

import pytest
from typer.testing import CliRunner

from jigs.cli.app import app

run = CliRunner()


@pytest.fixture(scope="module")
def nest(tmp_path_factory):
    """A nest made once for all tests of this file."""
    folder = tmp_path_factory.mktemp("nest")
    started = run.invoke(app, ["new", "mine", "--from", "nest", "--out", str(folder)])
    assert started.exit_code == 0, started.output
    job = folder / "mine" / "job.toml"
    done = run.invoke(app, ["make", str(job), "--out", str(folder / "out")])
    assert done.exit_code == 0, done.output
    return folder


@pytest.fixture
def made(nest, tmp_path):
    """Return (job file, out folder, record) of a nest that has been made."""
    shutil.copytree(nest, tmp_path, dirs_exist_ok=True)
    out = tmp_path / "out"
    return tmp_path / "mine" / "job.toml", out, json.loads((out / "record.json").read_text())


def measure(made, *more):
    job, out, _ = made
    return run.invoke(app, ["measured", str(job), "--out", str(out), *more])


def settings(record, off):
    """Return --set arguments: each check size off by ``off(name)``."""
    return [
        argument
        for check in record["setups"][0]["checks"]
        for argument in ("--set", f"{check['name']}={check['nominal_mm'] + off(check['name']):.4f}")
    ]


def wider(kerf):
    """Return what a wider kerf does to each check size of a nest."""
    return lambda name: 0.0 if "far wall" in name else -kerf


def test_new_offsets_are_printed_and_kept(made):
    _, out, record = made
    done = measure(
        made,
        *settings(record, wider(0.03)),
        "--resolution",
        "0.001",
        "--on",
        "2025-04-01",
        "--by",
        "bench 2",
        "--json",
    )
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    kept = json.loads((out / "record.json").read_text())["setups"][0]["as_cut"]
    assert kept == [told]
    assert told["measured_by"] == "bench 2"
    was = record["setups"][0]["datums"]
    for axis in ("X", "Y"):
        # Faces stand half the change nearer; pocket walls moved apart about the same middle.
        assert told["datums"][axis]["offset_mm"] == pytest.approx(
            was[axis]["offset_mm"] + 0.015, abs=0.003
        )
        assert told["datums"][axis]["u_mm"] < was[axis]["u_mm"]
    assert told["kerf_mm"] > record["setups"][0]["plates"][0]["kerf"]["used_mm"]


def test_a_second_measuring_is_added_and_the_rest_of_the_record_stays(made):
    _, out, record = made
    name = record["setups"][0]["checks"][0]["name"]
    size = record["setups"][0]["checks"][0]["nominal_mm"]
    (out / "record.json").write_text(
        json.dumps(record | {"setups": [record["setups"][0] | {"as_cut": ["an earlier one"]}]})
    )
    assert measure(made, "--set", f"{name}={size:.3f}").exit_code == 0
    after = json.loads((out / "record.json").read_text())
    kept = after["setups"][0].pop("as_cut")
    assert kept[0] == "an earlier one"
    assert len(kept) == 2
    assert after == record


def test_a_csv_in_inches(made, tmp_path):
    _, _, record = made
    rows = ["size,reading 1,reading 2"]
    for check in record["setups"][0]["checks"]:
        inch = check["nominal_mm"] / 25.4
        rows.append(f"{check['name']},{inch:.4f},{inch:.4f}")
    file = tmp_path / "sizes.csv"
    file.write_text("\n".join(rows))
    done = measure(made, "--sizes", str(file), "--unit", "inch", "--resolution", "0.0005")
    assert done.exit_code == 0, done.output
    assert "serves as it is" in done.output


def test_a_pocket_too_small_says_recut_and_by_how_much(made):
    _, _, record = made
    done = measure(made, *settings(record, wider(-0.3)), "--resolution", "0.001")
    assert done.exit_code == 1, done.output
    assert "Recut." in done.output
    assert "recut with a kerf of" in done.output


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ((), "nothing was measured"),
        (("--set", "plate along z=12"), "is no check size"),
        (("--set", "plate along x"), "names no check size"),
        (("--set", "plate along x=wide"), "is no reading"),
        (("--set", "plate along x=1.0"), "more than any cut can be"),
        (("--set", "plate along x=128", "--unit", "furlong"), "use mm or inch"),
        (("--set", "plate along x=128", "--resolution", "0"), "above 0"),
        (("--set", "plate along x=128", "--setup", "op99"), "op99"),
    ],
)
def test_bad_input_is_named_and_the_record_stays(made, more, words):
    _, out, record = made
    done = measure(made, *more)
    assert done.exit_code == 2
    assert words in done.output
    assert "Traceback" not in done.output
    assert json.loads((out / "record.json").read_text()) == record


def test_a_changed_job_is_noticed(made):
    job, _, record = made
    job.write_text(job.read_text().replace("width = 80", "width = 81"))
    check = record["setups"][0]["checks"][0]
    done = measure(made, "--set", f"{check['name']}={check['nominal_mm'] + 1:.3f}")
    assert done.exit_code == 2
    assert "has changed since the record was written" in done.output


def test_without_a_record_nothing_is_written(made, tmp_path):
    job, _, _ = made
    done = run.invoke(
        app, ["measured", str(job), "--out", str(tmp_path / "none"), "--set", "plate along x=128"]
    )
    assert done.exit_code == 2
    assert "record does not exist" in done.output
