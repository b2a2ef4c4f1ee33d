"""Networks survive the way through pgmpy and BIF files to the last digit."""

from __future__ import annotations

import importlib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from leakdx.belief.tree import compile_network
from leakdx.network.pgmpy_io import bif_text, from_pgmpy, read_bif, to_pgmpy, write_bif
from leakdx.network.tables import Network, NetworkError, Table, Variable
from tests.belief.enumeration import random_network

pytestmark = [
    pytest.mark.filterwarnings("ignore:.*StructureScore.* is deprecated:FutureWarning"),
    pytest.mark.filterwarnings("ignore:builtin type .* has no __module__:DeprecationWarning"),
]
seeds = st.integers(0, 2**32 - 1)


def same(one: Network, other: Network) -> None:
    """Equal names, states, arrows and numbers, bit for bit; order may differ."""
    assert {v.name: v.states for v in one.variables} == {v.name: v.states for v in other.variables}
    tables = {t.child: t for t in other.tables}
    for table in one.tables:
        assert tables[table.child].parents == table.parents
        np.testing.assert_array_equal(tables[table.child].values, table.values)


@settings(max_examples=25, deadline=None)
@given(seeds, st.integers(1, 8))
def test_through_pgmpy_and_back(seed: int, count: int) -> None:
    network = random_network(np.random.default_rng(seed), count)
    model = to_pgmpy(network)
    assert model.check_model()
    same(from_pgmpy(model), network)


@settings(
    max_examples=4, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(seeds, st.integers(1, 7))
def test_through_a_bif_file_and_back(tmp_path: Path, seed: int, count: int) -> None:
    network = random_network(np.random.default_rng(seed), count)
    path = tmp_path / "network.bif"
    write_bif(network, path)
    same(read_bif(path), network)
    assert [p.name for p in tmp_path.iterdir()] == ["network.bif"]


@pytest.mark.parametrize("seed", range(3))
def test_both_readers_give_the_same_answers(seed: int, tmp_path: Path) -> None:
    pyagrum: Any = importlib.import_module("pyagrum")
    from pgmpy.inference import VariableElimination
    from pgmpy.readwrite import BIFReader

    network = random_network(np.random.default_rng(seed), 8)
    path = tmp_path / "network.bif"
    write_bif(network, path)
    ours = compile_network(network).update({})
    read = pyagrum.loadBN(str(path))
    engine = pyagrum.LazyPropagation(read)
    engine.makeInference()
    query = VariableElimination(BIFReader(str(path)).get_model())
    for name in network.names:
        theirs = engine.posterior(name)
        assert theirs.variable(0).labels() == network[name].states
        # Single precision is all that pyagrum's reader keeps of any file.
        np.testing.assert_allclose(theirs.toarray(), ours[name], rtol=0, atol=1e-6)
        factor: Any = query.query([name], show_progress=False)
        assert tuple(factor.state_names[name]) == network[name].states
        np.testing.assert_allclose(factor.values, ours[name], rtol=0, atol=1e-12)


def coin(values: list[float], name: str = "a", states: tuple[str, ...] = ("x", "y")) -> Network:
    return Network((Variable(name, states),), (Table(name, (), np.array(values)),))


def test_tiny_numbers_keep_every_digit(tmp_path: Path) -> None:
    network = coin([1 - 1 / 3e7, 1 / 3e7])
    write_bif(network, tmp_path / "a.bif")
    same(read_bif(tmp_path / "a.bif"), network)
    assert repr(1 / 3e7) in bif_text(network)


def test_states_that_are_numbers(tmp_path: Path) -> None:
    pyagrum: Any = importlib.import_module("pyagrum")
    network = coin([0.25, 0.75], states=("0", "10"))
    write_bif(network, tmp_path / "a.bif")
    same(read_bif(tmp_path / "a.bif"), network)
    read = pyagrum.loadBN(str(tmp_path / "a.bif"))
    assert read.cpt("a").toarray().tolist() == [0.25, 0.75]
    assert read.variable("a").labels() == ("0", "10")


def test_sums_that_pgmpy_lets_pass_are_refused(tmp_path: Path) -> None:
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.models import DiscreteBayesianNetwork

    model = DiscreteBayesianNetwork()
    model.add_node("a")
    model.add_cpds(TabularCPD("a", 2, [[0.504], [0.504]]))
    assert model.check_model()
    with pytest.raises(NetworkError, match="table of a does not sum to one"):
        from_pgmpy(model)
    text = bif_text(coin([0.5, 0.5])).replace("0.5, 0.5", "0.504, 0.504")
    (tmp_path / "a.bif").write_text(text)
    with pytest.raises(NetworkError, match="table of a does not sum to one"):
        read_bif(tmp_path / "a.bif")


def test_missing_table_and_states_in_another_order_are_refused() -> None:
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.models import DiscreteBayesianNetwork

    model = DiscreteBayesianNetwork([("a", "b")])
    names = {"a": ["x", "y"], "b": ["u", "v"]}
    half = [[0.5, 0.5], [0.5, 0.5]]
    model.add_cpds(TabularCPD("b", 2, half, ["a"], [2], state_names=names))
    with pytest.raises(NetworkError, match="a has no table"):
        from_pgmpy(model)
    model.add_cpds(TabularCPD("a", 2, [[0.5], [0.5]], state_names={"a": ["y", "x"]}))
    with pytest.raises(NetworkError, match="disagree on the states of a"):
        from_pgmpy(model)


@pytest.mark.parametrize("name", ["a b", "a-b", "ä", "1a", "table", "", "a\n"])
def test_names_some_readers_stumble_over(name: str, tmp_path: Path) -> None:
    with pytest.raises(NetworkError, match="letters"):
        write_bif(coin([0.5, 0.5], name), tmp_path / "a.bif")
    assert not list(tmp_path.iterdir())


def test_all_bad_names_are_told_at_once() -> None:
    with pytest.raises(NetworkError, match=r"'a b'.*'x y' of a b.*'default' of a b"):
        bif_text(coin([0.5, 0.5], "a b", ("x y", "default")))


def test_an_old_file_survives_a_failed_write(tmp_path: Path) -> None:
    path = tmp_path / "a.bif"
    write_bif(coin([0.5, 0.5]), path)
    before = path.read_text()
    with pytest.raises(NetworkError):
        write_bif(coin([0.5, 0.5], "a b"), path)
    assert path.read_text() == before
    write_bif(coin([0.25, 0.75]), path)
    assert path.read_text() != before
