"""What a sweep varies, read from TOML."""

from __future__ import annotations

import numpy as np
import pytest

from xlcalc.core.errors import InputError
from xlcalc.jobs.sweep.distributions import Range, Values
from xlcalc.jobs.sweep.sweep_spec import GRID, SweepSpec, read_spec

BASES = {"site": {"utility mva": 250.0, "demand amps": None}, "settings": {"unbalance pct": 0.0}}


def spec(tmp_path, text):
    path = tmp_path / "sweep.toml"
    path.write_text(text, encoding="utf-8")
    return read_spec(path, BASES, ["P1", "P2"])


def test_all_forms(tmp_path):
    read = spec(
        tmp_path,
        """
        [sweep]
        samples = 50
        seed = 7
        [site]
        "utility mva" = { tolerance_pct = 20 }
        "Transformer Z (%)" = { low = 4, high = 7 }
        [settings]
        "unbalance pct" = { low = 0, likely = 0.5, high = 2 }
        "background 5th pct" = { mean = 1, sd = 0.5 }
        [drives]
        "load pct" = { factor = { low = 0.6, high = 1 } }
        [drives.p1]
        pulses = { values = [6, 12, 18] }
        """,
    )
    assert [i.label for i in read.inputs] == [
        "utility mva (factor)",
        "transformer z pct",
        "unbalance pct",
        "background 5th pct",
        "load pct of all drives (factor)",
        "pulses of P1",
    ]
    drawn = read.drawn()
    assert drawn.shape == (50, 6)
    assert read.inputs[0].value(1.2, 250.0) == pytest.approx(300.0)
    assert read.inputs[5].value(12.0, 6) == 12
    assert drawn[:, 3].min() >= 0.0


def test_each_drive_draws_on_its_own_unless_its_line_says_more(tmp_path):
    read = spec(
        tmp_path,
        """
        [drives]
        "load pct" = { factor = { low = 0.6, high = 1 }, each = true }
        pulses = { values = [6, 12], each = true }
        [drives.p1]
        Pulses = { values = [18] }
        """,
    )
    assert [(i.label, i.tag) for i in read.inputs] == [
        ("load pct of P1 (factor)", "P1"),
        ("load pct of P2 (factor)", "P2"),
        ("pulses of P2", "P2"),
        ("pulses of P1", "P1"),
    ]
    together = spec(tmp_path, "[drives]\n'load pct' = { low = 60, high = 90, each = false }\n")
    assert [i.label for i in together.inputs] == ["load pct of all drives"]


def test_latin_hypercube_has_one_draw_in_every_stratum():
    """The property that defines the design: McKay, Beckman and Conover, Technometrics 21 (1979) 239-245
    (from memory)."""
    inputs = read_inputs(3)
    drawn = SweepSpec(inputs, samples=40, seed=5).drawn()
    for column in drawn.T:
        assert sorted(np.floor(column * 40).astype(int)) == list(range(40))
    assert np.array_equal(drawn, SweepSpec(inputs, samples=40, seed=5).drawn())
    assert not np.array_equal(drawn, SweepSpec(inputs, samples=40, seed=6).drawn())


def read_inputs(count):
    from xlcalc.jobs.sweep.sweep_spec import Input
    from xlcalc.schema.inputs.site import SITE

    fields = [f for f in SITE.fields if f.name in ("linear load kw", "utility mva", "demand amps")]
    return tuple(Input("site", field, Range(0.0, 1.0)) for field in fields[:count])


def test_grid_is_every_combination():
    first, second, _ = read_inputs(3)
    inputs = (first, second.__class__("site", second.field, Values((1.0, 2.0, 4.0))))
    drawn = SweepSpec(inputs, method=GRID).drawn()
    assert drawn.shape == (15, 2)
    assert len({tuple(row) for row in drawn.tolist()}) == 15


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "inputs"),
        ("[plant]\n", "plant"),
        ("[site]\n'utility mv' = {low=1, high=2}\n", "did you mean"),
        ("[site]\npcc = {low=1, high=2}\n", "pcc"),
        ("[site]\n'utility mva' = 5\n", "utility mva"),
        ("[site]\n'utility mva' = {low=1}\n", "utility mva"),
        ("[site]\n'utility mva' = {low='a', high=2}\n", "utility mva"),
        ("[site]\n'utility mva' = {low=-5, high=2}\n", "utility mva"),
        ("[site]\n'utility mva' = {low=3, high=2}\n", "high"),
        ("[site]\n'demand amps' = {tolerance_pct=5}\n", "demand amps"),
        ("[site]\n'utility mva' = {tolerance_pct=150}\n", "utility mva"),
        ("[settings]\n'unbalance pct' = {values=[]}\n", "values"),
        ("[drives]\npulses = {low=6, high=18}\n", "whole"),
        ("[drives]\nquantity = {factor={low=1, high=2}}\n", "whole"),
        ("[drives]\npulses = {values=[6, 7]}\n", "pulses"),
        ("[drives.P9]\n'load pct' = {low=60, high=90}\n", "P9"),
        ("[drives]\n'load pct' = {low=60, high=90, each=1}\n", "each of load pct in drives is 1"),
        ("[drives.P1]\n'load pct' = {low=60, high=90, each=true}\n", "a form without each"),
        ("[site]\n'utility mva' = {low=60, high=90, each=true}\n", "a form without each"),
        ("[sweep]\nsample = 3\n", "sample"),
        ("[sweep]\nsamples = 1\n[site]\n'utility mva' = {low=1, high=2}\n", "samples"),
        ("[sweep]\nmethod = 'dice'\n[site]\n'utility mva' = {low=1, high=2}\n", "method"),
        ("a = \n", "TOML"),
    ],
)
def test_what_cannot_be_meant_is_refused(tmp_path, text, words):
    with pytest.raises(InputError, match=words):
        spec(tmp_path, text)


def test_a_grid_that_is_too_large_is_refused_before_it_is_made():
    inputs = tuple(i.__class__(i.section, i.field, Range(0.0, 1.0, 1000)) for i in read_inputs(3))
    with pytest.raises(InputError, match="grid"):
        SweepSpec(inputs, method=GRID).drawn()
