"""Which test drives which step of the page in a real Chromium: one that is new and driven by none is told."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

_DAY: Final = "test_counter_in_browser.test_a_day_at_the_counter"
_SHEET: Final = "test_steps_in_browser.test_a_sheet_is_dropped_or_pasted_corrected_answered_and_kept"
_ROOM: Final = "test_steps_in_browser.test_a_room_is_drawn_as_it_is_typed_and_two_do_not_overwrite_each_other"
_TRIED: Final = "test_steps_in_browser.test_what_ifs_rank_again_and_what_was_found_is_taken_away"
_MONEY: Final = "test_money_in_browser.test_money_is_judged_mended_taken_back_and_a_system_chosen"
_BUILT: Final = "test_steps_in_browser.test_three_measured_files_are_judged_beside_the_model_and_stored_once"
_LAST: Final = "test_counter_in_browser.test_two_windows_at_the_last_unit_on_a_server"
_SHOPPER: Final = "test_page_in_browser.test_from_an_empty_catalogue_to_a_printed_fit_sheet"
_PLAIN: Final = "test_page_in_browser.test_everything_works_with_scripting_off_and_by_keyboard"

DRIVEN: Final[Mapping[str, str]] = {
    "mains by a few letters": _SHEET,
    "a datasheet pasted": _SHOPPER,
    "a sheet dropped as PDF or HTML, a scanned one refused": _SHEET,
    "what was read marked and linked to its figure": _SHEET,
    "a figure corrected by a click": _SHEET,
    "a question of a sheet answered": _SHEET,
    "one loudspeaker or several": _SHEET,
    "nothing stored before it is confirmed": _SHEET,
    "a room drawn anew with each change": _ROOM,
    "what is supposed made one's own": _ROOM,
    "a room that somebody else changed": _ROOM,
    "ranked, pending and ruled out": _SHOPPER,
    "a cap and a weight": "test_page_in_browser.test_a_slider_ranks_again_and_says_what_changed",
    "a target, a tilt, a seat, stock": _TRIED,
    "a pending question answered in place": "test_page_in_browser.test_a_pending_question_is_answered_in_place",
    "two side by side": _TRIED,
    "fit sheet and report, HTML and PDF": _TRIED,
    "lines, shares, rules with their numbers": _MONEY,
    "a mend taken and taken back": _MONEY,
    "a whole system, with progress, stopped": _MONEY,
    "available by loudspeaker, place and job": _DAY,
    "a serial found": _DAY,
    "each refusal in place": "test_counter_in_browser.test_each_refusal_stands_at_its_form_on_a_phone",
    "two at the last unit": _LAST,
    "a count over what somebody else moved": _LAST,
    "three measured files, model and verdict, stored": _BUILT,
}
"""The steps of the shopper, the counter and what was installed."""

SENT: Final[Mapping[str, str]] = {
    "/demo": "", "/import": _SHOPPER, "/datasheet": _SHEET, "/room": _ROOM, "/room-file": "",
    "/answer": "test_page_in_browser.test_a_pending_question_is_answered_in_place", "/plan": _MONEY,
    "/plan-stop": _MONEY, "/counter": _DAY, "/quote": _DAY, "/ledger": _DAY, "/books": "", "/installed": _BUILT,
    "/installed-keep": _BUILT,
}  # fmt: skip
"""What is sent to each address that takes something; those without a test are driven over HTTP alone."""
