from __future__ import annotations

import json

import pytest
from typer.testing import CliRunner

from isohume.dashboard.cli import app
from isohume.dashboard.planning import depths_of, design_of, document, in_words, known_materials, work_out

RUN = CliRunner()
BOARD = "0.4:cotton paper or board"


def test_a_design_reads_as_it_is_written() -> None:
    design = design_of(3, 0.3, [BOARD], ["acrylic sheet:3:0.15", "glass:2:0.15"], 8)
    assert design.buffers[0].capacity_g_per_percent == pytest.approx(0.4 * 1.05)
    assert design.sheets[0].s_d_m == pytest.approx(150)  # μ 50 000 × 3 mm, EN ISO 10456 from memory
    assert design.sheets[1].s_d_m is None
    assert design.panel_response_days == pytest.approx(3.0, abs=0.05)  # Crank: 4·(8 mm)²/(π²·1e-10 m²/s)


@pytest.mark.parametrize(
    ("boards", "sheets", "said"),
    [
        (["much:cotton paper or board"], [], "not a number"),
        (["0.4:straw"], [], "wood in practice"),
        ([], ["acrylic sheet:3"], "MATERIAL:MM:M2"),
        ([], ["amber:3:0.1"], "acrylic sheet"),
    ],
)
def test_what_is_wrong_is_said_with_what_is_known(boards: list[str], sheets: list[str], said: str) -> None:
    with pytest.raises((ValueError, KeyError), match=said):
        design_of(3, 0.3, boards, sheets, None)


def test_depths_need_six_numbers() -> None:
    assert depths_of("12,30,3,8,9,4").collar_mm == pytest.approx(8)
    with pytest.raises(ValueError, match="six depths"):
        depths_of("12,30")


def test_document_and_sentences_say_the_same() -> None:
    planned = work_out(design_of(3, 0.3, [BOARD], [], None), temperature_celsius=20)
    half_time = document(planned)["half_time_days"]
    assert f"{half_time:.3g} days" in in_words(planned)[0]
    assert "qualified conservator" in in_words(planned)[-1]
    json.dumps(document(planned), allow_nan=False)


def test_materials_state_their_sources() -> None:
    assert "memory" in known_materials()
    assert "EN ISO 10456" in known_materials()


def test_plan_command_prints_json_and_refuses_half_a_question() -> None:
    answer = RUN.invoke(app, ["plan", "--air-volume", "3", "--air-exchange", "0.3", "--board", BOARD, "--json"])
    assert answer.exit_code == 0
    assert json.loads(answer.stdout)["schema"] == "isohume.plan.1"
    refused = RUN.invoke(app, ["plan", "--air-volume", "3", "--air-exchange", "0.3", "--winter-minimum", "45"])
    assert refused.exit_code == 2
    assert "--outside" in refused.stderr
    assert RUN.invoke(app, ["plan"]).exit_code == 2
