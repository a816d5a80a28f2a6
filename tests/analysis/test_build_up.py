from __future__ import annotations

import pytest

from isohume.analysis.build_up import BuildUp, build_up

WORKED = BuildUp(
    rebate_mm=12,
    frame_mm=30,
    face_cushion_mm=1,
    glazing_mm=3,
    spacer_mm=8,
    panel_mm=9,
    remaining_warp_mm=2,
    board_mm=5,
    board_compression=0.2,
    backing_mm=4,
)


def test_worked_example_by_hand() -> None:
    # 1 + 3 + 8 + 9 + 2 + 4 (5 mm board less a fifth) = 27 mm in the rebate of 12 mm: a collar of 15 mm.
    # Screw: 4 backing + 15 collar + 30 frame - 9.5 = 39.5 mm under the head.
    depths = build_up(WORKED)
    assert depths.package_mm == pytest.approx(31)
    assert depths.collar_mm == pytest.approx(15)
    assert depths.longest_screw_mm == pytest.approx(39.5)


def test_a_backing_in_the_rebate_deepens_the_collar() -> None:
    depths = build_up(WORKED, screw_through_backing=False)
    assert depths.collar_mm == pytest.approx(19)
    assert depths.longest_screw_mm == pytest.approx(19 + 30 - 9.5)


def test_a_deep_rebate_needs_no_collar_and_tells_what_is_left() -> None:
    deep = BuildUp(rebate_mm=40, frame_mm=50, glazing_mm=3, spacer_mm=8, panel_mm=9, backing_mm=4)
    depths = build_up(deep)
    assert depths.collar_mm == 0
    assert depths.spare_mm == pytest.approx(20)


def test_a_shallow_frame_takes_no_screw() -> None:
    flat = BuildUp(rebate_mm=5, frame_mm=9, glazing_mm=2, spacer_mm=6, panel_mm=3, backing_mm=3)
    depths = build_up(flat)
    assert depths.longest_screw_mm is None
    assert any("no screw" in note for note in depths.notes)


def test_warp_calls_for_more_room_before_the_glazing() -> None:
    assert any("6 mm" in note for note in build_up(WORKED).notes) is (8 < 6 + 2)
    close = BuildUp(rebate_mm=12, frame_mm=30, glazing_mm=3, spacer_mm=5, panel_mm=9, backing_mm=4)
    assert any("6 mm" in note for note in build_up(close).notes)


@pytest.mark.parametrize("wrong", [{"panel_mm": -1.0}, {"board_compression": 1.0}, {"rebate_mm": 60.0}])
def test_impossible_depths_are_refused(wrong: dict[str, float]) -> None:
    good = {
        "rebate_mm": 12.0,
        "frame_mm": 30.0,
        "glazing_mm": 3.0,
        "spacer_mm": 6.0,
        "panel_mm": 9.0,
        "backing_mm": 4.0,
    }
    with pytest.raises(ValueError, match=r"not possible|cannot"):
        BuildUp(**{**good, **wrong})
