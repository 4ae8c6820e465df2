"""Who rows: those who cycle their hands while seated side-on, and nobody else."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.errors import NoRowerError, SettingsError
from analysis.pose.linking import PersonTrack
from analysis.pose.people import COCO_NAMES
from analysis.pose.rower import choose, closer_look, evidence, rowers_from_bow
from tests.pose import made_people as made

TIMES = np.arange(0, 12, 0.25)


def played(act: Callable[..., dict], times: np.ndarray = TIMES, **kwargs: object) -> PersonTrack:
    act_kwargs = {k: kwargs.pop(k) for k in ("spm", "slide", "swing", "rpm") if k in kwargs}
    rng = np.random.default_rng(3)
    people = [
        made.person(act(t, **act_kwargs), rng=rng, **{"noise_px": 3.0, **kwargs}) for t in times
    ]
    return made.track(times, people)


class TestEvidence:
    @pytest.mark.parametrize(
        "how",
        [
            {"spm": 18.0},
            {"spm": 30.0},
            {"spm": 26.0, "slide": 0.3},
            {"spm": 28.0, "slide": 0.0},
            {"spm": 40.0, "slide": 0.0, "swing": 0.0},
        ],
        ids=["slow", "fast", "quarter slide", "arms and body", "arms only"],
    )
    def test_every_drill_is_rowing(self, how: dict[str, float]) -> None:
        found = evidence(played(made.rowing, **how))
        assert found.rows, found
        assert found.facing == "right"
        assert found.spm == pytest.approx(how["spm"], rel=0.15)

    @pytest.mark.parametrize(
        ("act", "reason"),
        [
            (made.walking, "not seated"),
            (made.cycling, "not seated"),
            (made.squatting, "not seated"),
            (made.sitting, "still"),
        ],
    )
    def test_other_activities_are_not(self, act: Callable[..., dict], reason: str) -> None:
        for noise in (0.0, 6.0):
            found = evidence(played(act, noise_px=noise))
            assert not found.rows, found
            assert found.why_not == reason

    def test_rests_before_and_after_rowing(self) -> None:
        # Half a minute of sitting about either side of four strokes.
        times = np.arange(0, 70, 0.25)
        rng = np.random.default_rng(0)
        people = [
            made.person(
                made.rowing(t, spm=24) if 30 < t < 41 else made.sitting(t), noise_px=3.0, rng=rng
            )
            for t in times
        ]
        assert evidence(made.track(times, people)).rows

    def test_squats_with_a_rest_at_the_bottom(self) -> None:
        def act(t: float) -> dict:
            return made.squatting(min(t % 5, 1.5))  # down for 1.5 s, then held for 3.5 s

        assert evidence(played(act)).why_not == "not seated"

    def test_from_the_front(self) -> None:
        # Square to the camera: full shoulder width (0.259 of stature, Drillis & Contini 1966), and
        # no travel across the picture.
        def front(t: float) -> dict:
            return {name: place * [0.0, 1.0] for name, place in made.rowing(t).items()}

        found = evidence(played(front, shoulder_width=0.259))
        assert found.why_not == "front"

    @given(
        scale=st.floats(60, 1500),
        x=st.floats(-500, 4000),
        spm=st.floats(16, 36),
        act=st.sampled_from([made.rowing, made.cycling, made.squatting, made.walking]),
    )
    @settings(max_examples=40, deadline=None)
    def test_mirrored_and_scaled(
        self, scale: float, x: float, spm: float, act: Callable[..., dict]
    ) -> None:
        kwargs = {"spm": spm} if act is made.rowing else {}
        right = evidence(played(act, noise_px=0.0, **kwargs))
        left = evidence(
            played(act, noise_px=0.0, stature_px=scale, at_px=(x, 300.0), facing=-1.0, **kwargs)
        )
        assert (right.rows, right.why_not, right.cycles) == (left.rows, left.why_not, left.cycles)
        if right.rows:
            assert (right.facing, left.facing) == ("right", "left")
        assert right.hand_travel == pytest.approx(left.hand_travel, rel=1e-6)


class TestChoice:
    def crew(self) -> list[PersonTrack]:
        """Three who row facing left, bow to the right, the middle one nearest; a walker."""
        return [
            played(made.walking, stature_px=420.0),
            played(made.rowing, at_px=(700.0, 300.0), facing=-1.0),
            played(made.rowing, at_px=(200.0, 300.0), facing=-1.0, stature_px=280.0),
            played(made.rowing, at_px=(450.0, 300.0), facing=-1.0, stature_px=340.0),
        ]

    @pytest.mark.parametrize(
        ("who", "number"),
        [("auto", 3), ("nearest", 3), ("left", 2), ("right", 1), (1, 1), (2, 3), (3, 2)],
    )
    def test_whom(self, who: object, number: int) -> None:
        assert choose(self.crew(), who) == [number]  # type: ignore[arg-type]

    def test_bow_is_behind_the_backs(self) -> None:
        facing_right = [played(made.rowing, at_px=(x, 300.0)) for x in (200.0, 500.0, 800.0)]
        assert choose(facing_right, 1) == [0]
        facing_left = [
            played(made.rowing, at_px=(x, 300.0), facing=-1.0) for x in (200.0, 500.0, 800.0)
        ]
        assert choose(facing_left, 1) == [2]

    def test_seat_that_is_not_there(self) -> None:
        with pytest.raises(NoRowerError, match="3 people row"):
            choose(self.crew(), 4)
        with pytest.raises(SettingsError, match="not 0"):
            choose(self.crew(), 0)
        with pytest.raises(SettingsError):
            choose(self.crew(), "stroke")  # type: ignore[arg-type]

    def test_nobody(self) -> None:
        with pytest.raises(NoRowerError, match="Nobody was found"):
            choose([])

    def test_nobody_who_rows(self) -> None:
        with pytest.raises(NoRowerError, match="nobody whose hands and hips"):
            choose([played(made.walking), played(made.cycling)])

    def test_front_view_is_named(self) -> None:
        def front(t: float) -> dict:
            return {name: place * [0.0, 1.0] for name, place in made.rowing(t).items()}

        with pytest.raises(NoRowerError, match="front or back"):
            choose([played(front, shoulder_width=0.259)])


@pytest.mark.parametrize("seats", range(2, 9))
@pytest.mark.parametrize("facing", [1.0, -1.0])
def test_crew_is_counted_from_the_bow(seats: int, facing: float) -> None:
    times = np.arange(0, 10, 0.25)
    crew = [
        made.track(
            times,
            [made.person(made.rowing(t), at_px=(120.0 * k, 400.0), facing=facing) for t in times],
        )
        for k in range(seats)
    ]
    coach = made.track(times, [made.person(made.walking(t)) for t in times])
    order = rowers_from_bow([*crew, coach])
    # Rowers face the stern: who faces right has the bow on the left.
    assert order == (list(range(seats)) if facing > 0 else list(range(seats))[::-1])
    assert [choose([*crew, coach], n + 1) for n in range(seats)] == [[n] for n in order]


def test_one_stroke_of_somebody_seated_is_worth_a_finer_look() -> None:
    times = np.arange(0, 5, 0.25)
    # One whole stroke, then hidden: too little to be sure of on so few looks.
    once = made.track(times, [made.person(made.rowing(min(t, 3.4))) for t in times])
    walker = made.track(times, [made.person(made.walking(t)) for t in times])
    assert not evidence(once).rows
    assert choose([walker, once]) == [1]
    with pytest.raises(NoRowerError):
        choose([walker, once], 1)
    with pytest.raises(NoRowerError):
        choose([walker, made.track(times, [made.person(made.sitting(t)) for t in times])])


class TestInTheWay:
    """Where somebody else is in the way, few looks do not have the last word."""

    times = np.arange(0, 8, 0.25)

    def seen(self, act: Callable[..., dict], **how: object) -> PersonTrack:
        return played(act, self.times, **how)

    def test_who_sits_nearer_and_overlaps_is_looked_at_first(self) -> None:
        behind = self.seen(made.rowing, stature_px=250.0, at_px=(470.0, 380.0))
        still = self.seen(made.sitting, stature_px=320.0)
        assert not evidence(still).rows and evidence(still).why_not == "still"
        assert choose([behind, still]) == [1, 0]
        assert choose([behind, still], "left") == [0]

    def test_not_so_of_somebody_apart_or_further_away(self) -> None:
        behind = self.seen(made.rowing, stature_px=250.0, at_px=(470.0, 380.0))
        apart = self.seen(made.sitting, stature_px=320.0, at_px=(1200.0, 400.0))
        smaller = self.seen(made.sitting, stature_px=240.0)
        assert choose([behind, apart]) == [0]
        assert choose([behind, smaller]) == [0]

    def test_two_at_most(self) -> None:
        many = [
            self.seen(made.sitting, stature_px=size, at_px=(x, 400.0))
            for size, x in ((300.0, 480.0), (320.0, 500.0), (340.0, 520.0))
        ]
        assert choose(many) == [2, 1]
        assert choose([*many, self.seen(made.rowing, stature_px=200.0)]) == [2, 3]

    def test_hips_on_a_neighbours_are_no_sit_up(self) -> None:
        """Hips that jump to a neighbour's every few looks seem to lie back."""
        rower = self.seen(made.rowing, noise_px=1.0)
        xy = rower.xy_px.copy()
        shoulder = xy[:, COCO_NAMES.index("left_shoulder")]
        away = np.flatnonzero(np.arange(len(xy)) % 5 == 0)
        for side in ("left", "right"):
            xy[away, COCO_NAMES.index(f"{side}_hip")] = shoulder[away] + [100.0, 40.0]
        spoilt = PersonTrack(self.times, rower.box_px, xy, rower.score, rower.unsure)
        assert evidence(spoilt).why_not == "lying"
        assert choose([spoilt]) == [0]

    def test_arms_lost_behind_somebody_may_bend_all_the_same(self) -> None:
        """Elbows stay where they are while releases are not seen; so do a swing's, alone."""
        rower = self.seen(made.rowing, stature_px=320.0)
        xy = rower.xy_px.copy()
        for side in ("left", "right"):
            shoulder, wrist = (
                xy[:, COCO_NAMES.index(f"{side}_{j}")] for j in ("shoulder", "wrist")
            )
            xy[:, COCO_NAMES.index(f"{side}_elbow")] = (shoulder + wrist) / 2
        straight = PersonTrack(self.times, rower.box_px, xy, rower.score, rower.unsure)
        assert evidence(straight).why_not == "arms stay"
        behind = self.seen(made.rowing, stature_px=250.0, at_px=(470.0, 380.0))
        assert choose([behind, straight]) == [1, 0]
        with pytest.raises(NoRowerError):
            choose([straight])


@pytest.mark.parametrize("beside", [True, False])
def test_the_second_model_is_believed_where_somebody_was_in_the_way(beside: bool) -> None:
    times = np.arange(0, 8, 0.1)
    still, rows = (played(act, times) for act in (made.sitting, made.rowing))
    for track in (still, rows):
        track.unsure[: len(times) * 6 // 10] = beside
    assert closer_look(rows, still).rows
    assert closer_look(still, rows).rows == beside
    assert closer_look(still, still).why_not == "still"


def test_who_stays_long_at_the_catch_over_low_feet_sits_all_the_same() -> None:
    people = []
    for t in np.arange(0, 10, 0.25):
        away = 2.0 * (t / 2.5 % 1.0) - 1.0  # from the catch, in half strokes
        joints = made.rowing(2.5 * (0.5 + 0.5 * away**3))
        joints["ankle"] = np.array([0.0, -0.18])
        people.append(made.person(joints))
    slow = made.track(np.arange(0, 10, 0.25), people)
    hip, ankle = slow.xy_px[:, 11], slow.xy_px[:, 15]
    fall_deg = np.degrees(np.arctan2(*(ankle - hip).T[::-1]))
    assert np.median(fall_deg) > 42.0
    assert evidence(slow).rows
