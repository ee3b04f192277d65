"""What arrives and cannot be reckoned with is set aside with its reason; what can is kept as it was typed."""

from __future__ import annotations

from dataclasses import replace

import pytest
from case_builder import METER, OWN_TABLE, PIN_METER, at

from desorb.core.kinds import InstrumentCheck, RuleRow, Setting
from desorb.notebook.sense import senseless


@pytest.mark.parametrize("value", ["", " ", "abc", ">=5", "12,5", "nan", "inf", "-1", "1e9"])
def test_a_setting_that_rules_reckon_with_is_a_figure(value: str) -> None:
    """One such setting from elsewhere would leave every page of the case unreadable."""
    assert "control fresh hours" in senseless(Setting("control fresh hours", value, "h", "a letter"))


@pytest.mark.parametrize(
    ("key", "value"),
    [("control fresh hours", "24"), ("altitude", "-12.5"), ("pressure", "101325"), ("a key of ours", "")],
)
def test_a_fitting_setting_and_one_of_words_stay(key: str, value: str) -> None:
    assert senseless(Setting(key, value, "", "a letter")) == ""


def test_descriptions_of_instruments_and_rules_have_decimal_points() -> None:
    """Commas are for what is typed on site; a description is reckoned with as it stands."""
    comma = replace(METER.scales[1], resolution="0,1")
    assert "resolution" in senseless(replace(METER, scales=(comma,)))
    assert "nominal" in senseless(replace(METER, block=(replace(METER.block[0], nominal="50,5"),)))
    assert "additions" in senseless(replace(PIN_METER, corrections=(replace(OWN_TABLE, additions=("3,0",)),)))
    assert "margin" in senseless(RuleRow("wood pins", False, "1", "1,5", "0.5", "a letter"))
    check = InstrumentCheck("m1", "comparative", "50,2", "50", "2", at())
    assert senseless(check) == ""  # the value was typed on site
    assert "tolerance" in senseless(replace(check, tolerance="0,5"))
