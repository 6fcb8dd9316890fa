"""What is set is kept, and a broken file of settings stops nothing."""

from __future__ import annotations

from solver.verdicts import Rules
from ui.settings import Settings, load_settings, save_settings


def test_usual_settings_judge_by_the_usual_rules():
    assert Settings().rules == Rules()


def test_settings_are_kept(tmp_path):
    mine = Settings(step_by_step=False, decimal_mark=",", percent=5.0, unit_owed=False)
    save_settings(mine, tmp_path / "new")
    assert load_settings(tmp_path / "new") == mine
    assert mine.rules.relative_tolerance == 0.05
    assert not mine.rules.unit_owed


def test_broken_file_gives_the_usual_settings(tmp_path):
    (tmp_path / "settings.json").write_text('{"percent": "many"', encoding="utf-8")
    assert load_settings(tmp_path) == Settings()
