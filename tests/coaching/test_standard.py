import math
import tomllib
from pathlib import Path

import pytest

from analysis.coaching.standard import SHIPPED, RateLimit, load_standard
from analysis.coaching.standard_file import lines_of_keys
from analysis.coaching.standard_text import standard_toml
from analysis.errors import SettingsError
from analysis.stroke.strokes import STAGES


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "squad.toml"
    path.write_text(text, encoding="utf-8")
    return path


def limits(standard, stage="full_slide", setting="erg"):
    return standard.at(stage, setting)


@pytest.mark.parametrize("name", SHIPPED)
def test_shipped_standards_load_for_every_stage_and_setting(name):
    standard = load_standard(name)
    assert standard.name == name
    assert len(standard.limits) == 10
    for table in standard.limits.values():
        for limit in table.values():
            floor = limit.low.least if isinstance(limit.low, RateLimit) else limit.low
            assert floor is not None or limit.high is not None
            assert limit.about
            if limit.target is not None:
                assert limit.low <= limit.target <= limit.high


def test_novice_limits_are_the_agreed_common_practice():
    # Common practice, as agreed for novices in their first year.
    expected = {
        "slide_time_share": (0.42, None, 0.08),
        "front_speed_share": (None, 1.0, 0.2),
        "catch_dwell_s": (None, 0.30, 0.15),
        "catch_trunk_deg": (15, 38, 6),
        "body_over_share": (0.75, None, 0.15),
        "arms_away_share": (0.85, None, 0.15),
        "lunge_deg": (None, 5, 4),
        "shin_catch_deg": (-12, 5, 5),
        "elbow_catch_deg": (160, None, 10),
        "legs_at_back_open": (0.45, None, 0.15),
        "legs_at_arm_bend": (0.8, None, 0.15),
        "seat_slip_share": (None, 0.10, 0.06),
        "knee_release_deg": (150, None, 8),
        "layback_deg": (3, 20, 6),
        "handle_level_share": (None, 0.25, 0.12),
        "handle_loop_share": (None, 0.35, 0.15),
        "handle_dip_share": (None, 0.15, 0.08),
        "hand_height_share": (0.30, 0.65, 0.1),
        "forearm_release_deg": (-20, 20, 10),
        "hand_gap_share": (-0.3, 0.35, 0.15),
        "head_deg": (-25, 25, 15),
    }
    table = limits(load_standard(), setting="boat")
    assert {m: (table[m].low, table[m].high, table[m].step) for m in expected} == expected
    assert table["ratio"].low == RateLimit(0.7, 0.9, 0.7, 1.5)
    assert table["head_deg"].at_most == "watch"


@pytest.mark.parametrize(
    ("stage", "checks"),
    [
        ("arms_only", {"rounding", "handle_path", "head"}),
        ("arms_and_body", {"reach", "layback", "arms_away"}),
        ("quarter_slide", {"body_over", "arms_early", "opening_early", "legs_down"}),
        ("half_slide", {"lunge", "seat_slip", "ratio", "handle_loop", "handle_dip", "dwell"}),
        ("full_slide", {"compression", "rush"}),
    ],
)
def test_checks_join_stage_by_stage(stage, checks):
    def judged(at):
        table = load_standard().at(at, "erg").values()
        return {limit.check for limit in table if limit.applies(at, "erg") and not limit.hint}

    at = STAGES.index(stage)
    before = judged(STAGES[at - 1]) if at else set()
    assert judged(stage) - before == checks
    assert before <= judged(stage)


def test_arms_only_judges_the_back_at_the_release_alone():
    table = load_standard().at("arms_only", "erg").values()
    rounding = {k.measure for k in table if k.check == "rounding" and k.applies("arms_only", "erg")}
    assert rounding == {"rounding_release_deg"}


def test_reach_is_asked_less_of_at_arms_and_body():
    assert limits(load_standard(), "arms_and_body")["catch_trunk_deg"].low == 5
    assert limits(load_standard(), "quarter_slide")["catch_trunk_deg"].low == 15


def test_strictness_differs_where_the_trade_differs():
    # Common practice: trained crews lean back further, and leave more time for the recovery.
    first, novice, trained = (limits(load_standard(name)) for name in SHIPPED)
    assert first["layback_deg"].low < novice["layback_deg"].low < trained["layback_deg"].low
    assert novice["layback_deg"].high < trained["layback_deg"].high
    at_24 = [table["ratio"].bounds(24.0)[0] for table in (first, novice, trained)]
    assert at_24 == sorted(at_24) and len(set(at_24)) == 3
    assert trained["legs_at_back_open"].low == 0.3
    for measure in ("rounding_catch_deg", "rounding_drive_deg", "rounding_release_deg"):
        assert first[measure].high == novice[measure].high == trained[measure].high


def test_athlete_over_squad_over_default(tmp_path):
    path = written(
        tmp_path,
        """
        based_on = "trained"
        [limits.layback_deg]
        high = 30
        [limits.lunge_deg]
        high = 7
        [athlete."Maria Lopez".layback_deg]
        high = 26
        """,
    )
    squad, maria = load_standard(path), load_standard(path, athlete="maria_lopez")
    assert limits(squad)["layback_deg"].high == 30
    assert limits(maria)["layback_deg"].high == 26
    assert limits(maria)["lunge_deg"].high == 7
    assert limits(maria)["layback_deg"].low == limits(load_standard("trained"))["layback_deg"].low
    assert load_standard(path, athlete="Eva").digest == squad.digest != maria.digest
    assert (maria.athlete, squad.athlete) == ("maria_lopez", "")
    assert (squad.name, squad.based_on) == ("squad", "trained")


def test_a_squad_limit_leaves_a_stage_limit_be_but_an_athletes_does_not(tmp_path):
    path = written(
        tmp_path,
        """
        [limits.catch_trunk_deg]
        low = 18
        [athlete.eva.catch_trunk_deg]
        low = 11
        """,
    )
    assert limits(load_standard(path), "arms_and_body")["catch_trunk_deg"].low == 5
    assert limits(load_standard(path))["catch_trunk_deg"].low == 18
    eva = load_standard(path, athlete="eva")
    assert limits(eva, "arms_and_body")["catch_trunk_deg"].low == 11


def test_stage_and_setting_tables_hold_only_there(tmp_path):
    path = written(
        tmp_path,
        """
        [setting.boat.handle_loop_share]
        high = 0.5
        [stage.half_slide.lunge_deg]
        high = 8
        """,
    )
    standard = load_standard(path)
    assert limits(standard, setting="boat")["handle_loop_share"].high == 0.5
    assert limits(standard, setting="erg")["handle_loop_share"].high == 0.35
    assert limits(standard, "half_slide")["lunge_deg"].high == 8
    assert limits(standard, "full_slide")["lunge_deg"].high == 5


def test_a_side_can_be_opened_a_check_switched_off_and_a_formula_made_a_number(tmp_path):
    path = written(
        tmp_path,
        """
        [limits.layback_deg]
        high = "open"
        [limits.head_deg]
        from = "never"
        [limits.ratio]
        low = 1.2
        """,
    )
    table = limits(load_standard(path))
    assert (table["layback_deg"].low, table["layback_deg"].high) == (3, None)
    assert not table["head_deg"].applies("full_slide", "erg")
    assert table["ratio"].bounds(math.nan) == (1.2, None)


def test_an_athletes_own_neutral_back(tmp_path):
    path = written(tmp_path, "[athlete.eva]\nneutral_raw_deg = 14\n")
    eva, squad = load_standard(path, athlete="Eva"), load_standard(path)
    assert (eva.neutral_raw_deg, eva.neutral_raw_se_deg, eva.neutral_from) == (14, 0, "standard")
    assert squad.neutral_from == "anybody"
    assert eva.with_season_neutral(9.0, 1.0) is eva
    season = squad.with_season_neutral(9.0, 1.0)
    assert (season.neutral_raw_deg, season.neutral_from) == (9.0, "season")


@pytest.mark.parametrize(
    ("text", "line", "key", "says"),
    [
        ("[limits.layback_deg]\nhigh = 'far'\n", 2, "limits.layback_deg.high", "number"),
        ("[limits.layback_deg]\nhigh = nan\n", 2, "limits.layback_deg.high", "finite"),
        ("[limits.layback_deg]\nhigh = true\n", 2, "limits.layback_deg.high", "number"),
        ("\n[limits.layback_deg]\nhihg = 2\n", 3, "limits.layback_deg.hihg", "did you mean high?"),
        ("[limits.laybak_deg]\nhigh = 2\n", 1, "limits.laybak_deg", "did you mean layback_deg?"),
        ("# hi\n[limits.lunge_deg]\nstep = 0\n", 3, "limits.lunge_deg.step", "above 0"),
        ("[limits.lunge_deg]\nunit = 'm'\n", 2, "limits.lunge_deg.unit", "not a name"),
        ("[limits.lunge_deg]\nfrom = 'half'\n", 2, "limits.lunge_deg.from", "half_slide"),
        ("[limits.layback_deg]\nlow = 25\n", 2, "limits.layback_deg.low", "not below high"),
        ("[stage.half.lunge_deg]\nhigh = 2\n", 1, "stage.half", "it knows arms_only"),
        ("[setting.river.lunge_deg]\nhigh = 2\n", 1, "setting.river", "it knows erg, boat"),
        ("[athlete.'Eva B'.lunge_deg]\nhigh = []\n", 2, "athlete.Eva B.lunge_deg.high", "number"),
        ("[athlete.eva]\nneutral_raw_deg = '8'\n", 2, "athlete.eva.neutral_raw_deg", "number"),
        ("limits.lunge_deg.high = 'x'\n", 1, "limits.lunge_deg.high", "number"),
        ("[limits.ratio]\nlow = { share = 1.0 }\n", 2, "limits.ratio.low", "needs drive_s"),
        ("[limits.ratio]\nlow = { share = 1.0, drive_s = 1, least = 2, most = 1 }\n", 2,
         "limits.ratio.low", "no larger"),
        ("order = [['lunge'], ['lung']]\n", 1, "order", "must be one of"),
        ("limits = 3\n", 1, "limits", "table"),
        ("based_on = 'club'\n", 1, "based_on", "novice"),
        ("schema = 2\n", 1, "schema", "must be 1"),
        ("titel = 'x'\n", 1, "titel", "did you mean title?"),
    ],
)  # fmt: skip
def test_a_wrong_file_is_one_sentence_with_line_and_key(tmp_path, text, line, key, says):
    path = written(tmp_path, text)
    with pytest.raises(SettingsError) as caught:
        load_standard(path)
    message = str(caught.value)
    assert message.startswith(f"{path}, line {line}: {key}")
    assert says in message
    assert "\n" not in message and message[-1] in ".?"


def test_broken_toml_names_the_line(tmp_path):
    with pytest.raises(SettingsError, match="line 2"):
        load_standard(written(tmp_path, "[limits.layback_deg]\nhigh = = 3\n"))


def test_a_file_that_is_not_text(tmp_path):
    path = tmp_path / "squad.toml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(SettingsError, match="cannot be read"):
        load_standard(path)


def test_an_unknown_standard_says_what_there_is(tmp_path):
    with pytest.raises(SettingsError, match="first-weeks, novice, trained"):
        load_standard("expert")
    with pytest.raises(SettingsError, match="no standard"):
        load_standard(tmp_path / "gone.toml")


def test_a_byte_order_mark_does_no_harm(tmp_path):
    path = written(tmp_path, "\ufeff[limits.lunge_deg]\nhigh = 6\n")
    assert limits(load_standard(path))["lunge_deg"].high == 6


@pytest.mark.parametrize("name", SHIPPED)
def test_a_written_copy_is_the_same_standard(tmp_path, name):
    standard = load_standard(name)
    copy = load_standard(written(tmp_path, standard_toml(standard, "squad")))
    assert copy.limits == standard.limits
    assert copy.digest == standard.digest
    assert (copy.name, copy.based_on) == ("squad", name)


def test_a_copy_of_a_squads_file_keeps_stages_settings_and_athletes(tmp_path):
    text = """
        [setting.boat.lunge_deg]
        high = 6
        [stage.half_slide.lunge_deg]
        high = 7
        [athlete."Eva B"]
        neutral_raw_deg = 3
        [athlete."Eva B".lunge_deg]
        high = 8
        """
    first = written(tmp_path, text)
    again = tmp_path / "again.toml"
    again.write_text(standard_toml(load_standard(first), "again"), encoding="utf-8")
    for athlete in (None, "eva b"):
        one, two = load_standard(first, athlete=athlete), load_standard(again, athlete=athlete)
        assert one.limits == two.limits
        assert one.neutral_raw_deg == two.neutral_raw_deg


def test_every_limit_in_a_copy_is_explained():
    lines = standard_toml(load_standard(), "x").splitlines()
    heads = [i for i, line in enumerate(lines) if line.startswith("[limits.")]
    assert len(heads) == len(load_standard().at("full_slide", "boat"))
    assert all(lines[i - 1].startswith("# ") and len(lines[i - 1]) > 20 for i in heads)


def test_lines_are_found_in_what_people_write():
    found = lines_of_keys("a = 1\n[x.y] # why\n  b=2\n[x.'y z']\n\"c\" = 3\nd.e = 4\n# f = 5\n")
    assert found == {
        ("a",): 1,
        ("x",): 2,
        ("x", "y"): 2,
        ("x", "y", "b"): 3,
        ("x", "y z"): 4,
        ("x", "y z", "c"): 5,
        ("x", "y z", "d"): 6,
        ("x", "y z", "d", "e"): 6,
    }


def test_order_holds_every_check_once():
    standard = load_standard()
    ordered = [check for group in standard.order for check in group]
    judged = {k.check for k in standard.at("full_slide", "boat").values() if not k.hint}
    assert sorted(ordered) == sorted(judged)
    assert standard.rank("rounding") < standard.rank("body_over") < standard.rank("lunge")
    assert standard.rank("unheard of") == len(standard.order)


def test_shipped_files_hold_no_key_twice_for_nothing():
    # An overlay that repeats the base's value would hide a later change of the base.
    base = limits(load_standard())
    for name in ("first-weeks", "trained"):
        other = load_standard(name)
        source = Path(__file__).parents[2] / "analysis" / "coaching" / SHIPPED[name]
        for measure, table in tomllib.loads(source.read_text())["limits"].items():
            for key in table:
                assert getattr(limits(other)[measure], key) != getattr(base[measure], key)
