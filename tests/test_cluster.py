"""The same work on a cluster: a real one, of two workers on this machine."""

import json
import os
import sys
import warnings
from pathlib import Path

import fake_reviews
import pytest

from analysis.batch import run_reviews
from analysis.cluster import on_cluster
from analysis.errors import SettingsError
from analysis.job import Job

HERE = Path(__file__).parent

# The workers find modules where this process finds them when they are started.
sys.path[:0] = [str(HERE / "season"), str(HERE / "squad")]

distributed = pytest.importorskip(
    "distributed", reason="Dask is not installed (the optional extra [cluster])"
)

pytestmark = pytest.mark.filterwarnings("default")


@pytest.fixture(scope="module")
def cluster():
    """Two workers, each a process of its own with one thread, on this machine alone."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with distributed.LocalCluster(
            n_workers=2,
            threads_per_worker=1,
            processes=True,
            dashboard_address=None,
            host="127.0.0.1",
        ) as made:
            yield made


def test_the_outcomes_are_those_of_one_machine(cluster, tmp_path):
    jobs = []
    for i, content in enumerate(["ok a", "nobody", "bug", "ok b", "sleep 0.1", "memory"]):
        clip = tmp_path / f"{i}.mp4"
        clip.write_text(content)
        jobs.append(Job(str(clip), str(tmp_path / "out"), f"clip{i}"))
    events = []
    far = on_cluster(cluster.scheduler_address)(
        jobs, on_event=events.append, review=fake_reviews.by_content
    )
    near = run_reviews(jobs, 2, review=fake_reviews.by_content)
    assert [(o.job, o.status, o.why, o.folder) for o in far] == [
        (o.job, o.status, o.why, o.folder) for o in near
    ]
    pids = {o.gathered["pid"] for o in far if o.status == "done"}
    assert os.getpid() not in pids and len(pids) == 2
    assert sorted(event.index for event in events) == list(range(6))


def test_a_squad_gives_the_same_season(cluster, tmp_path):
    import fake_squad

    from analysis.season.export import season_data
    from analysis.season.store import Season
    from analysis.squad.plan import SquadSettings
    from analysis.squad.run import run_squad

    paths = fake_squad.film_squad(tmp_path / "clips", 4)
    found = []
    for name, runner in (("far", on_cluster(cluster.scheduler_address)), ("near", run_reviews)):
        folder = tmp_path / name
        with Season(folder) as season:
            run_squad(paths, season, SquadSettings(folder), runner=runner, review=fake_squad.review)
            found.append(json.dumps(season_data(season)))
    assert found[0] == found[1]
    assert "rower03" in found[0]


def test_stop_leaves_the_rest(cluster, tmp_path):
    clip = tmp_path / "0.mp4"
    clip.write_text("sleep 20")
    job = Job(str(clip), str(tmp_path), "clip")
    begun = Path(str(clip) + ".begun")
    assert (
        on_cluster(cluster.scheduler_address)(
            [job], review=fake_reviews.by_content, stop=begun.exists
        )
        == []
    )


def test_no_scheduler_there(monkeypatch):
    monkeypatch.setattr("analysis.cluster.CONNECT_S", 0.5)
    with pytest.raises(SettingsError, match="No Dask scheduler answers"):
        on_cluster("tcp://127.0.0.1:9")([Job("a", "b", "c")])


def test_workers_of_another_version(cluster, monkeypatch):
    monkeypatch.setattr("analysis.cluster.__version__", "99.0")
    with pytest.raises(SettingsError, match="need the same sideon"):
        on_cluster(cluster.scheduler_address)([Job("a", "b", "c")])


def test_nothing_to_do_asks_nobody():
    assert on_cluster("tcp://127.0.0.1:9")([]) == []
