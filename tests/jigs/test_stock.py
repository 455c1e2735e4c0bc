"""Stock that must not be cut fails the run; a person's word does not make chlorine safe."""

from __future__ import annotations

import pytest

from jigs.finding import Severity
from jigs.stock import check_stock, is_banned


def codes(material, *, has_checked=False, thickness_mm=3.0):
    found = check_stock(
        material, thickness_mm=thickness_mm, subject='sheet "s"', has_checked=has_checked
    )
    return [(f.code, f.severity) for f in found]


@pytest.mark.parametrize(
    ("material", "plain", "checked"),
    [
        ("cast acrylic", None, None),
        ("PVC", Severity.FAIL, Severity.FAIL),
        ("PTFE", Severity.FAIL, Severity.FAIL),
        ("ABS", Severity.FAIL, Severity.WARN),
        ("some offcut", Severity.WARN, Severity.NOTE),
    ],
)
def test_severity_with_and_without_a_persons_word(material, plain, checked):
    assert [s for _, s in codes(material)] == ([] if plain is None else [plain])
    assert [s for _, s in codes(material, has_checked=True)] == (
        [] if checked is None else [checked]
    )


def test_the_way_round_is_not_offered_for_chlorine():
    (pvc,) = check_stock("PVC", thickness_mm=3.0, subject='sheet "s"')
    assert "hydrogen chloride" in pvc.message
    assert is_banned((pvc,))
    assert not is_banned(check_stock("mystery", thickness_mm=3.0, subject='sheet "s"'))
    assert "checked" not in pvc.hint
    abs_ = check_stock("ABS", thickness_mm=3.0, subject='sheet "s"')[0]
    assert "checked" in abs_.hint
