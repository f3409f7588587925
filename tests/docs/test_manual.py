"""What a user can type or read in a result is in the manual."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from enum import StrEnum
from pathlib import Path
from typing import Any

import click
import numpy as np
import pytest
from tests.docs.manual import field_names
from tests.reports.fake_listening import fake_listening
from tests.reports.test_toning_section import LIST

from strikeline.acoustics import comparison_result, toning_result
from strikeline.acoustics.comparison_quantities import PITCH
from strikeline.acoustics.comparison_result import (
    Basis,
    Change,
    Comparison,
    NoteDifference,
    QuantityComparison,
    Strings,
    Verdict,
    WordChange,
)
from strikeline.acoustics.comparison_transfer import Transfer
from strikeline.acoustics.damping_result import DampedPartial, DamperVerdict, Damping
from strikeline.acoustics.evenness_result import StepVerdict
from strikeline.acoustics.listening import Decay, Kind, Listening, Mode, Note, Partial, Recording
from strikeline.acoustics.muted_result import Agreement, Coupling, StringAlone, StringsOfNote
from strikeline.acoustics.pass_judgement import judge_pass, judged_listening_json
from strikeline.acoustics.pluck_result import Pluck, StringPlace
from strikeline.acoustics.toning_result import Action
from strikeline.acoustics.unison_result import Beat, Unison, UnisonVerdict
from strikeline.cli import main as cli_main
from strikeline.measured import Measured
from strikeline.workshop.strings import StringsHeard

ROOT = Path(__file__).parents[2]
MANUAL = (ROOT / "docs" / "listening.md").read_text()
DOCS = "\n".join(page.read_text() for page in sorted((ROOT / "docs").glob("*.md")))
"""All pages of the manual."""
OF_EVERY_ESTIMATE = {"value", "se"}
"""Explained once for all schemas, at the head of the JSON."""
README = (ROOT / "README.md").read_text()


def _options() -> Iterator[tuple[str, str]]:
    for command in (cli_main.cli, *cli_main.cli.commands.values()):
        for parameter in command.params:
            if isinstance(parameter, click.Option):
                yield from ((command.name or "", option) for option in parameter.opts)


@pytest.mark.parametrize(("command", "option"), list(_options()))
def test_every_option_is_in_the_manual(command: str, option: str) -> None:
    assert re.search(rf"{re.escape(option)}\b", DOCS), f"{command} {option} is not in docs/"


@pytest.mark.parametrize("command", list(cli_main.cli.commands))
def test_every_command_is_in_readme_and_manual(command: str) -> None:
    assert f"strikeline {command}" in DOCS
    assert f"./run {command}" in README


@pytest.mark.parametrize("code", sorted(value for name, value in vars(cli_main).items() if name.startswith("EXIT_")))
def test_every_exit_code_is_in_the_manual_and_in_help(code: int) -> None:
    assert re.search(rf"^\| {code} \|", MANUAL, re.MULTILINE)
    assert re.search(rf"^\s+{code}\s", cli_main.cli.epilog or "", re.MULTILINE)


def test_every_field_of_the_json_is_in_the_manual() -> None:
    one = Measured(1.0, 0.1)
    mode = Mode(f_hz=one, decay_db_per_s=one, level_db=0.0)
    partial = Partial(
        n=1,
        f_hz=one,
        level_db=one,
        decay_db_per_s=Decay(early=one, late=one),
        modes=(mode,),
        law_cents=0.0,
        in_law=True,
    )
    damped = DampedPartial(n=1, decay_db_per_s=one, leaks=True)
    note = Note(
        key=49, onset_s=0.0, end_s=1.0, f0_hz=one, inharmonicity_b=one, cents_from_et=one, pitch_cents=one,
        partials=(partial,), brightness=one, level_db=one, knock_db=one, sustain_db_per_s=one, singing_s=one,
        unison=Unison(
            verdict=UnisonVerdict.BEATING, beats=(Beat(partial=1, rate_hz=one, depth_db=1.0),), string_f0_hz=(one, one)
        ),
        damping=Damping(verdict=DamperVerdict.LEAKS, lands_s=one, t60_s=one, partials=(damped,)),
        plucks=(Pluck(string=StringPlace.LEFT, at_s=0.0, is_touched=True, confidence=0.9),),
    )  # fmt: skip
    recording = Recording(
        sha256="", sample_rate_hz=1, duration_s=1.0, kind=Kind.NOTE, analyser="", reference_a4_hz=440.0
    )
    assert not _undocumented(Listening(recording=recording, notes=(note,)).to_json()) - {"recording", "notes"}


def _undocumented(data: Any, text: str = MANUAL) -> set[str]:
    names = set(field_names(data)) - {"schema"}
    plain = {name for name in names if not (name.endswith("_se") and name.removesuffix("_se") in names)}
    return {name for name in plain if not re.search(rf"[`\"]{name}[`\"]", text)}


def _section(heading: str) -> str:
    """Return one section of the manual, up to the next heading of any level."""
    _, _, rest = MANUAL.partition(f"\n{heading}\n")
    assert rest, f"no heading {heading!r}"
    return re.split(r"^#", rest, maxsplit=1, flags=re.MULTILINE)[0]


def test_every_field_of_a_judged_pass_is_in_the_manual() -> None:
    listening = fake_listening()
    judgement = judge_pass(listening)
    assert judgement is not None
    data = judged_listening_json(listening, replace(judgement, toning=LIST))
    assert all(data["evenness"].values()), "each list holds something, so that all names are seen"
    judged = {name: data[name] for name in ("evenness", "toning")}
    assert _undocumented(judged, _section("### A pass as a whole")) <= OF_EVERY_ESTIMATE


def test_every_field_of_a_comparison_is_in_the_manual() -> None:
    one = Measured(1.0, 0.1)
    recording = Recording(
        sha256="", sample_rate_hz=1, duration_s=1.0, kind=Kind.PASS, analyser="", reference_a4_hz=440.0
    )
    change = Change(
        quantity=PITCH, first_key=40, last_key=41, n_notes=2, before=0.0, after=1.0, change=one, p_false=0.01
    )
    compared = QuantityComparison(
        quantity=PITCH,
        basis=Basis.REPEATED,
        notes=(NoteDifference(key=40, before=0.0, after=1.0, change=one, p_false=0.01),),
        common=one,
        repeatability=1.0,
        n_repeats=1,
        scatter_ratio=1.0,
        changes=(change,),
        hints=(change,),
        is_common_changed=True,
    )
    level = Transfer(
        knot=np.repeat([0.0, 20.0], 4),
        coefficient=np.zeros(4),
        low_hz=100.0,
        high_hz=1000.0,
        scatter_db=1.0,
        n_partials=9,
    )
    comparison = Comparison(
        before=recording,
        after=recording,
        verdict=Verdict.CHANGED,
        strings=Strings.SAME,
        other_string_keys=(40,),
        quantities=(compared,),
        words=(WordChange(key=40, what="unison", before="locked", after="beating", is_certain=True),),
        transfer=level,
        cause=comparison_result.Cause.NONE,
        n_common=1,
        only_before=(),
        only_after=(),
        warnings=(),
        cannot_tell=(),
    )
    section = _section("### Before and after")
    missing = _undocumented(comparison.to_json(), section) - OF_EVERY_ESTIMATE
    assert not missing - {"sha256", "sample_rate_hz", "duration_s", "kind", "analyser", "reference_a4_hz"}
    assert "fields of `recording` above" in section


def test_every_field_of_strings_recorded_alone_is_in_the_manual() -> None:
    one = Measured(1.0, 0.1)
    beat = Beat(partial=1, rate_hz=one, depth_db=1.0)
    recording = Recording(
        sha256="", sample_rate_hz=1, duration_s=1.0, kind=Kind.NOTE, analyser="", reference_a4_hz=440.0
    )
    string = StringAlone(
        string=StringPlace.LEFT,
        f0_hz=one,
        inharmonicity_b=one,
        from_mean_cents=one,
        false_beats=(beat,),
        also_heard=(StringPlace.RIGHT,),
    )
    note = StringsOfNote(
        key=49,
        strings=(string,),
        is_complete=True,
        spread_cents=one,
        together=Unison(verdict=UnisonVerdict.BEATING, beats=(beat,), string_f0_hz=(one, one)),
        agreement=Agreement.AGREES,
        coupling=(Coupling(partial=1, loss_per_s=one, pull_hz=one, locks_below_cents=one, n_modes=2),),
    )
    heard = StringsHeard(together=recording, alone=dict.fromkeys(StringPlace, recording), note=note)
    missing = _undocumented(heard.to_json(), _section("### Strings of one note")) - OF_EVERY_ESTIMATE
    assert missing <= {"only"}, "a note of one string has nothing to be told apart"


@pytest.mark.parametrize(
    ("words", "heading"),
    [
        (StepVerdict, "### A pass as a whole"),
        (Action, "### A pass as a whole"),
        (toning_result.Cause, "### A pass as a whole"),
        (Verdict, "### Before and after"),
        (Basis, "### Before and after"),
        (Strings, "### Before and after"),
        (comparison_result.Cause, "### Before and after"),
        (Agreement, "### Strings of one note"),
    ],
)
def test_every_word_of_a_field_is_in_the_manual(words: type[StrEnum], heading: str) -> None:
    section = _section(heading)
    assert not [word.value for word in words if f"`{word.value}`" not in section]


@pytest.mark.parametrize(
    "page", ["README.md", "CONTRIBUTING.md", *(f"docs/{p.name}" for p in (ROOT / "docs").glob("*.md"))]
)
def test_links_lead_somewhere(page: str) -> None:
    text = (ROOT / page).read_text()
    for target in re.findall(r"\]\((?!https?:)([^)#]+)", text):
        assert ((ROOT / page).parent / target).exists(), f"{page} points to {target}"


def test_the_two_commands_of_the_readme_are_there() -> None:
    assert "./run demo" in README
    assert "./run tests" in README
    assert os.access(ROOT / "run", os.X_OK)
    assert "./run tests" in (ROOT / ".ci" / "run").read_text()


@pytest.mark.parametrize("word", [*UnisonVerdict, *DamperVerdict, *StringPlace, *Kind])
def test_every_verdict_is_in_the_manual(word: str) -> None:
    assert re.search(rf"`(--kind )?{word}`", MANUAL)


def test_commands_in_readme_and_manual_are_accepted_by_the_command_line() -> None:
    commands = "|".join(cli_main.cli.commands)
    lines = [line.split("#")[0] for line in README.splitlines() if re.match(rf"\./run ({commands})", line)]
    assert len(lines) >= 8
    # Under its parent, as in use: click keeps what the first context says of -h for all later tests.
    parent = cli_main.cli.make_context("strikeline", ["listen", "pass.m4a"])
    for line in lines:
        name, *arguments = shlex.split(line)[1:]
        cli_main.cli.commands[name].make_context(
            name, arguments, parent=parent
        )  # raises a usage error for an unknown option


def test_asking_for_help_loads_nothing_heavy() -> None:
    program = (
        "import sys; from strikeline.cli.main import run; run(['--help'])\n"
        "heavy = {'numpy', 'scipy', 'av', 'altair', 'typst', 'jinja2'} & sys.modules.keys()\n"
        "sys.exit(f'loaded: {sorted(heavy)}' if heavy else 0)"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "Exit codes:" in done.stdout


def test_imports_point_at_the_core() -> None:
    lint_imports = Path(sys.executable).with_name("lint-imports")
    done = subprocess.run([lint_imports, "--no-cache"], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout
    assert "0 broken" in done.stdout
