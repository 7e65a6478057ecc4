"""What can be built: our plans, and the family's own where it keeps them."""

import io
import json
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageColor

from assistant.cli import main
from assistant.commands.choosing import Choice, Model, models_of, to_choose_from
from assistant.commands.set_up_page import site_of
from assistant.core.club.setting_up import Choose, SettingUp, SetUpOrder, What
from assistant.core.plans.plan import read_plan
from assistant.devices.shelf import own_plan_files, plan_names, plan_text
from assistant.errors import SettingsError
from assistant.pages.board import Notices
from assistant.pages.setup_telling import SetUpPage
from tests.test_setting_up import NEXT, OFFER, after, refused

SAMPLES = Path(__file__).parent / "samples" / "plans"
COLOURS = ("#CC3333", "#33CC33", "#336699")


@pytest.fixture(autouse=True)
def club(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder in which the family works: no plan is in it yet."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def make_a_bridge(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """``plan new`` for three photos, the last of them blue."""
    folder.mkdir(parents=True)
    for number, colour in enumerate(COLOURS, start=1):
        Image.new("RGB", (400, 300), colour).save(folder / f"{number}.jpg")
    said = "2 tall red blocks\non the board\nbridge\n", "a long plank\nacross both\n\n", "a small arch\non top\n\n"
    monkeypatch.setattr("sys.stdin", io.StringIO("".join(said)))
    assert main(["plan", "new", str(folder), "--title", "Our bridge"]) == 0


def own(choice: Choice) -> list[Model]:
    return [model for model in choice.models.values() if model.file]


def test_after_plan_new_the_bridge_is_the_first_model_with_the_photo_of_its_last_step(
    club: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    make_a_bridge(Path("our-bridge"), monkeypatch)
    assert "Build it: tray-turns session --pages\n" in capsys.readouterr().out
    choice = to_choose_from([])
    first, *ours = choice.models.values()
    assert (first.plan.title, first.file, first.ending, first.lacks) == ("Our bridge", Path("our-bridge/plan.toml"), "jpg", "")
    seen = np.asarray(Image.open(io.BytesIO(first.picture)).convert("RGB"))
    np.testing.assert_allclose(seen.mean(axis=(0, 1)), ImageColor.getrgb(COLOURS[-1]), atol=3)
    assert len(ours) == len(plan_names()) and choice.broken == ()


def test_a_folder_elsewhere_is_named(club: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    elsewhere = club / "our pictures" / "bridge"
    make_a_bridge(elsewhere, monkeypatch)
    (club / "kitchen").mkdir()
    monkeypatch.chdir(club / "kitchen")
    make_a_bridge(Path("../far/away"), monkeypatch)
    assert "--pages --plans ../far/away\n" in capsys.readouterr().out
    assert own(to_choose_from([])) == []
    assert [model.file for model in own(to_choose_from([elsewhere]))] == [elsewhere / "plan.toml"]
    assert [model.file for model in own(to_choose_from([elsewhere.parent, elsewhere]))] == [elsewhere / "plan.toml"]


@pytest.mark.parametrize(("folder", "why"), [("nowhere", "is no folder"), (".", "There is no plan in")])
def test_a_named_folder_without_a_plan_is_one_sentence(folder: str, why: str) -> None:
    with pytest.raises(SettingsError, match=why):
        to_choose_from([Path(folder)])


def test_a_plan_that_is_named_and_folders_to_choose_from_do_not_go_together(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["session", "little-boat", "--pages", "--plans", "."]) == 2
    assert "Leave out one of the two" in capsys.readouterr().err


def test_only_what_is_meant_as_a_plan_is_looked_at(club: Path) -> None:
    text = plan_text("garden-gate")[0]
    for place in ("gate.toml", "deep/down/plan.toml", ".hidden/plan.toml", "sub/gate.toml"):
        (club / place).parent.mkdir(parents=True, exist_ok=True)
        (club / place).write_text(text)
    (club / "pyproject.toml").write_text('[project]\nname = "something"\n[piece]\nteal = "#008080"\n')
    (club / "huge.toml").write_bytes(b"[[step]]\n" + b"#" * 1_000_000)
    (club / "raw.toml").write_bytes(bytes(range(256)))
    (club / "sub" / "plan.toml").mkdir()
    (club / "broken link.toml").symlink_to("nowhere.toml")
    (club / "same.toml").symlink_to("gate.toml")
    assert own_plan_files([Path()]) == (Path("gate.toml"), Path("sub/gate.toml"))
    assert to_choose_from([]).broken == ()


def test_our_own_plans_are_not_the_family_s(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(Path(__file__).parent.parent / "shared")
    assert own_plan_files([Path()]) == ()


def test_a_broken_plan_is_told_with_its_first_fault_and_cannot_be_chosen(club: Path) -> None:
    shutil.copy(SAMPLES / "16-floating.toml", club / "castle.toml")
    (club / "tower").mkdir()
    (club / "tower" / "plan.toml").write_text("title = \n")
    (club / "words").mkdir()
    (club / "words" / "plan.toml").write_bytes(b"title = '\xe9'\n")
    choice = to_choose_from([])
    castle, tower, words = choice.broken
    assert castle.startswith("castle.toml, step ") and castle.endswith("There is more: tray-turns plan check castle.toml")
    assert tower.startswith("tower/plan.toml: this is not TOML")
    assert words.startswith("The plan 'words/plan.toml' cannot be read as text")
    assert own(choice) == []
    state = replace(after(NEXT), offer=replace(OFFER, broken=choice.broken))
    assert all(f'"{sentence}"' in json.dumps(told(state, choice), ensure_ascii=False) for sentence in choice.broken)
    for value in ("own-1", "castle.toml", str(club / "castle.toml"), "../castle"):
        assert refused(state, Choose(What.PLAN, value)) == "There is no such choice here."


def told(state: SettingUp, choice: Choice) -> object:
    return site_of(Notices[SettingUp, SetUpOrder](state), choice.models).tell(SetUpPage.SET_UP, state)


def test_a_photo_that_is_gone_is_said_and_the_drawing_takes_its_place(club: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    make_a_bridge(Path("our-bridge"), monkeypatch)
    (club / "our-bridge" / "3.jpg").unlink()
    [bridge] = own(to_choose_from([]))
    assert bridge.ending == "svg" and bridge.picture.startswith(b"<svg")
    assert bridge.lacks == "The photo '3.jpg' of step 3 is not there. Put it beside the plan, or take its line out."


def test_the_page_shows_where_the_family_s_own_plan_lies() -> None:
    plan = read_plan(plan_text("garden-gate")[0], "gate.toml")
    models = models_of({"own-1": plan}, {"own-1": Path("our-gate/gate.toml")})
    state = replace(after(NEXT), offer=replace(OFFER, plans={"own-1": plan}))
    shown = json.dumps(told(state, Choice(models)))
    fewer = replace(plan, children=(2,))
    hidden = json.dumps(told(replace(state, offer=replace(OFFER, plans={"own-1": fewer})), Choice(models)))
    assert "not for 3 children are not shown: Garden gate." in hidden and "model/own-1" not in hidden
    assert '"Your own plan: our-gate/gate.toml"' in shown and '"model/own-1.svg"' in shown
