"""The same batches run on a scheduler somebody else started, and give the same answers."""

import pytest

from kit.errors import InputError
from kit.study import cluster
from kit.study.fanout import each

distributed = pytest.importorskip("distributed", reason="the cluster extra is not installed")
ACT = "tests.study.hostile_tasks:act"


@pytest.fixture(scope="module")
def scheduler():
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as local:
        yield local.scheduler_address


def test_a_cluster_answers_as_local_processes_do_and_survives_a_crash(scheduler):
    tasks = [("square", float(i)) for i in range(20)] + [("crash", 0.0), ("square", 5.0)]
    with cluster.connected(scheduler) as (executor, threads):
        assert threads == 2
        there = {a.index: (a.status, a.result) for a in each(ACT, tasks, executor=executor, workers=threads)}
    here = {a.index: (a.status, a.result) for a in each(ACT, tasks, workers=2)}
    assert there == here
    assert there[20][0] == "crashed"


def test_other_versions_on_a_worker_are_refused(scheduler, monkeypatch):
    ours = cluster.versions() | {"numpy": "0.0.0"}
    original = cluster.versions
    monkeypatch.setattr(cluster, "versions", lambda: ours)
    client = distributed.Client(scheduler)
    try:
        monkeypatch.setattr(client, "run", lambda function: {"tcp://w": original()})
        with pytest.raises(InputError, match="runs other versions: numpy"):
            cluster._check_versions(client)
    finally:
        client.close()


def test_nobody_answering_is_a_clear_error(monkeypatch):
    monkeypatch.setattr(cluster, "CONNECT_SECONDS", 1.0)
    with pytest.raises(InputError, match="no scheduler answers"), cluster.connected("tcp://127.0.0.1:1"):
        pass


def test_an_unset_environment_variable_is_a_clear_error(monkeypatch):
    monkeypatch.delenv("DASK_SCHEDULER_ADDRESS", raising=False)
    with pytest.raises(InputError, match="DASK_SCHEDULER_ADDRESS"), cluster.connected("environment"):
        pass
