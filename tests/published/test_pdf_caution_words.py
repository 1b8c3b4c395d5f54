"""The cautions on our papers say at least what the published labels and limits say, in words of our own."""

from __future__ import annotations

from shopdocs.documents.press.cautions import CAUTIONS, DEFER


def test_exhaust_says_what_the_generator_label_says() -> None:
    """16 CFR 1407; 72 FR 1443 (12 Jan 2007), units made or imported on or after 14 May 2007.

    https://www.cpsc.gov/Regulations-Laws--Standards/Rulemaking/Final-and-Proposed-Rules/Portable-Generator-Labels :
    carbon monoxide cannot be seen or smelled and kills in minutes; never inside a home or garage, even if doors
    and windows are open; only outside, far from windows, doors and vents.
    """
    text = CAUTIONS["exhaust"][1].lower()
    for told in (
        "carbon monoxide",
        "cannot see or smell",
        "kills in minutes",
        "never in a house or garage",
        "even with doors and windows open",
        "only outdoors, far from windows, doors and vents",
    ):
        assert told in text, told


def test_noise_of_105_dba_is_too_much_after_an_hour() -> None:
    """Permissible hours: 105 dBA for one hour, 110 for half. The table of 29 CFR 1910.95 (G-16) as a state mining rule
    prints it: Wyoming Administrative Code, agency 053, chapter 2, section 56/5050 on exposure limits for noise.
    """
    assert "some within an hour" in CAUTIONS["noise"][1]
    assert "hearing protection" in CAUTIONS["noise"][1].lower()


def test_cautions_defer_to_manual_codes_and_licensed_people() -> None:
    """Common practice, no source: the words name all three."""
    assert all(word in DEFER for word in ("manual", "local codes", "licensed"))
    assert "licensed electrician" in CAUTIONS["backfeed"][1]
