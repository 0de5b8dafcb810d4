"""Readings and figures of an item on the bench, as they are typed."""

from __future__ import annotations

from dataclasses import replace

from conducted import Conducted

from posewatch.trials import acts
from posewatch.ui.health_view import Level


def test_readings_on_the_bench_are_summed_up_and_what_is_poor_is_told(at: Conducted) -> None:
    at.begin()
    at.desk.gauge()
    code = at.visit.next_code
    form = at.desk.form
    assert form is not None
    assert form.fields[0].text == code
    readings = ("31", "33", "32", "38", "32,0")
    typed = (code, "Shore OO", "sit bone", "left", "3", "glass", *readings, "5,5", "23")
    assert at.keep("Z9", *typed[1:]).startswith("No item is called 'Z9'.")
    assert at.keep(*typed) == ""
    gauged = at.acts[-1]
    assert isinstance(gauged, acts.Gauged)
    assert gauged.readings == (31.0, 33.0, 32.0, 38.0, 32.0)
    text, level = at.notes[-1]
    # Median and sample SD by hand: 32; deviations -2.2, -0.2, -1.2, 4.8, -1.2 from 33.2.
    assert text.startswith(f"{code}, sit bone: median 32, 31 to 38, SD 2.8")
    assert "under 6 mm" in text
    assert level is Level.WELL
    at.desk.gauge()
    form = at.desk.form
    assert form is not None
    assert [one.text for one in form.fields if one.text] == [code, "Shore OO", "3", "glass"]


def test_figures_of_an_item(at: Conducted) -> None:
    at.begin()
    at.desk.facts()
    assert at.keep(at.visit.next_code).startswith("No figure is given.")
    assert at.keep(at.visit.next_code, "", "182,5", "", "2.5").startswith("An item cannot have")
    assert at.keep(at.visit.next_code, "", "182,5", "", "3") == ""
    told = [replace(one, t_ns=0) for one in at.acts[-2:]]
    code = at.visit.next_code
    assert told == [
        acts.ItemFact(0, code, "weight", 182.5),
        acts.ItemFact(0, code, "washes", 3.0),
    ]
