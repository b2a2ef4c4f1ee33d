"""What a look could show, against going through every state of small networks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leakdx.advice.outcomes import Outlook, Reads, outlooks
from leakdx.belief.evidence import Evidence, ImpossibleEvidence, hard
from leakdx.belief.tree import JunctionTree, compile_network
from leakdx.network.tables import Array, Influence, Maximum, Network, Table, Variable
from tests.belief.enumeration import random_columns, weighted, written_out

TOLERANCE = 1e-9
SEAL = ("tight", "seeping", "drops", "dripping")


def made_up(rng: np.random.Generator, zeros: float = 0.0) -> tuple[Network, list[str], list[str]]:
    """Two to four seal points under a shared cause or not, and three zones that they wet."""
    variables = [Variable("cause", ("no", "yes"))]
    tables = [Table("cause", (), random_columns(rng, 2, 1, 0)[:, 0])]
    maxima: list[Maximum] = []
    seals = [f"seal{k}" for k in range(int(rng.integers(2, 5)))]
    for seal in seals:
        variables.append(Variable(seal, SEAL))
        if rng.random() < 0.5:
            tables.append(Table(seal, ("cause",), random_columns(rng, 4, 2, zeros)))
        else:
            tables.append(Table(seal, (), random_columns(rng, 4, 1, zeros)[:, 0]))
    zones = [f"zone{k}" for k in range(3)]
    for k, zone in enumerate(zones):
        size = int(rng.integers(2, 4))
        variables.append(Variable(zone, tuple(f"level{n}" for n in range(size))))
        above = [str(s) for s in rng.permutation(seals)[:2]] + zones[max(k - 1, 0) : k]
        shapes = {v.name: v.size for v in variables}
        if rng.random() < 0.6:
            influences = tuple(
                Influence(a, random_columns(rng, size, shapes[a], zeros)) for a in above
            )
            maxima.append(Maximum(zone, random_columns(rng, size, 1, zeros)[:, 0], influences))
        else:
            shape = [size, *(shapes[a] for a in above)]
            values = random_columns(rng, size, int(np.prod(shape[1:])), zeros).reshape(shape)
            tables.append(Table(zone, tuple(above), values))
    return Network(tuple(variables), tuple(tables), tuple(maxima)), seals, zones


def look_at(
    rng: np.random.Generator, network: Network, names: Sequence[str], sure: bool = False
) -> Reads:
    """A look at those variables; each thing is dry by a chance of its own in each state."""
    dry = []
    for name in names:
        chance = rng.random(network[name].size)
        if sure:
            chance = (chance < 0.5).astype(float)
        dry.append({name: chance})
    return Reads(tuple(names), tuple(dry))


def labelled(things: Sequence[str], wet: Sequence[bool], telling: str) -> str:
    """The outcome that a pattern of dry and wet things counts as; ``telling`` is one of them."""
    if len(things) < 2:
        return "wet" if any(wet) else "dry"
    if sum(wet) == 0:
        return "all dry"
    if sum(wet) == 1:
        return f"only {things[list(wet).index(True)]} wet"
    if len(things) == 2:
        return "both wet"
    if wet[things.index(telling)]:
        return f"several wet, {telling} too"
    return f"several wet, not {telling}"


def telling_of(outlook: Outlook) -> str:
    """The thing by which several wet things are told apart."""
    return outlook.labels[-1].removeprefix("several wet, ").removesuffix(" too")


def gone_through(
    network: Network,
    known: Mapping[str, Array],
    reads: Reads,
    seals: Sequence[str],
    telling: str = "",
) -> dict[str, tuple[float, Array]]:
    """Chance of each outcome, and P(outcome, leak) of each seal point: every state, every
    pattern of dry and wet."""
    plain = written_out(network)
    joint = weighted(plain, known)
    joint = joint / joint.sum()
    found: dict[str, tuple[float, Array]] = {}
    for wet in product((False, True), repeat=len(reads.things)):
        here = joint
        for is_wet, dry in zip(wet, reads.dry, strict=True):
            chance = np.ones([1] * joint.ndim)
            for name, likelihood in dry.items():
                chance = chance * likelihood.reshape([-1 if n == name else 1 for n in plain.names])
            here = here * (1 - chance if is_wet else chance)
        leaks = np.array([here.take(range(1, 4), plain.names.index(s)).sum() for s in seals])
        label = labelled(reads.things, wet, telling)
        before = found.get(label, (0.0, np.zeros(len(seals))))
        found[label] = (before[0] + float(here.sum()), before[1] + leaks)
    return found


def entropy(p: float) -> float:
    return -sum(q * float(np.log2(q)) for q in (p, 1 - p) if q > 1e-15)


def information(told: Mapping[str, tuple[float, Array]]) -> float:
    """Of each seal point by itself, added up, from the joint chances."""
    before = sum(leaks for _, leaks in told.values())
    bits = sum(entropy(float(p)) for p in np.atleast_1d(before))
    for chance, leaks in told.values():
        if chance > 1e-15:
            bits -= chance * sum(entropy(float(p / chance)) for p in leaks)
    return bits


def agree(found: Outlook, told: Mapping[str, tuple[float, Array]]) -> None:
    assert set(found.labels) >= set(told)
    for k, label in enumerate(found.labels):
        chance, leaks = told.get(label, (0.0, np.zeros(found.leaks.shape[1])))
        assert found.chance[k] == pytest.approx(chance, abs=1e-8)
        # What is rare is a small difference of large chances.
        if chance > 1e-6:
            np.testing.assert_allclose(found.leaks[k], leaks / chance, atol=1e-12 / chance + 1e-9)
    assert found.chance.sum() == pytest.approx(1.0, abs=1e-12)
    assert found.chance.min() >= 0
    assert found.leaks.min() >= 0 and found.leaks.max() <= 1 + 1e-12
    assert found.bits == pytest.approx(information(told), abs=1e-6)
    assert found.bits >= 0


def some_known(rng: np.random.Generator, network: Network) -> Evidence:
    names = [str(n) for n in rng.permutation(network.names)[: int(rng.integers(0, 4))]]
    return Evidence({n: rng.random(network[n].size) + 0.01 for n in names})


def several_looks(rng: np.random.Generator, network: Network, sure: bool) -> list[Reads]:
    """At one thing and more; things may be seal points as well as zones."""
    names = [n for n in network.names if n != "cause"]
    picked = [[str(n) for n in rng.permutation(names)[:k]] for k in (1, 2, 3, 5)]
    return [look_at(rng, network, p, sure) for p in picked]


@pytest.mark.parametrize("seed", range(60))
def test_outcomes_agree_with_going_through_every_state(seed: int) -> None:
    rng = np.random.default_rng(seed)
    network, seals, _ = made_up(rng, zeros=0.3 if seed % 3 == 0 else 0.0)
    known = some_known(rng, network)
    looks = several_looks(rng, network, sure=False)
    got = outlooks(compile_network(network), known, looks, seals)
    assert len(got) == len(looks)
    for outlook, reads in zip(got, looks, strict=True):
        agree(outlook, gone_through(network, known, reads, seals, telling_of(outlook)))


@pytest.mark.parametrize("seed", range(60))
def test_looks_that_never_err_agree_too(seed: int) -> None:
    rng = np.random.default_rng(1000 + seed)
    network, seals, _ = made_up(rng, zeros=0.5)
    looks = several_looks(rng, network, sure=True)
    got = outlooks(compile_network(network), {}, looks, seals)
    for outlook, reads in zip(got, looks, strict=True):
        agree(outlook, gone_through(network, {}, reads, seals, telling_of(outlook)))


@pytest.mark.parametrize("seed", range(20))
def test_a_thing_that_several_variables_wet_is_dry_of_all(seed: int) -> None:
    """A zone read dry is dry of every fluid: one thing, evidence on two variables."""
    rng = np.random.default_rng(2000 + seed)
    network, seals, zones = made_up(rng)
    chances = [rng.random(network[z].size) for z in zones]
    both = {zones[0]: chances[0], zones[1]: chances[1]}
    looks = [
        Reads(("both",), (both,)),
        Reads(("both", zones[2]), (both, {zones[2]: chances[2]})),
        # The same variable read by two of the look's things.
        Reads(("both", "again"), (both, {zones[0]: chances[0] ** 2})),
    ]
    got = outlooks(compile_network(network), {}, looks, seals)
    for outlook, reads in zip(got, looks, strict=True):
        agree(outlook, gone_through(network, {}, reads, seals, telling_of(outlook)))


@pytest.mark.parametrize("seed", range(20))
def test_the_outcomes_together_are_the_belief_before(seed: int) -> None:
    rng = np.random.default_rng(3000 + seed)
    network, seals, _ = made_up(rng)
    known = some_known(rng, network)
    tree = compile_network(network)
    before = np.array([1 - tree.update(known)[s][0] for s in seals])
    for outlook in outlooks(tree, known, several_looks(rng, network, seed % 2 == 0), seals):
        np.testing.assert_allclose(outlook.chance @ outlook.leaks, before, atol=TOLERANCE)
        np.testing.assert_allclose(outlook.before, before, atol=TOLERANCE)


@pytest.mark.parametrize("seed", range(20))
def test_looks_do_not_bear_on_each_other(seed: int) -> None:
    """One batch for all gives what each gives by itself."""
    rng = np.random.default_rng(4000 + seed)
    network, seals, _ = made_up(rng)
    known, tree = some_known(rng, network), compile_network(network)
    looks = several_looks(rng, network, sure=False)
    for together, reads in zip(outlooks(tree, known, looks, seals), looks, strict=True):
        alone = outlooks(tree, known, [reads], seals)[0]
        np.testing.assert_allclose(together.chance, alone.chance, atol=TOLERANCE)
        np.testing.assert_allclose(together.leaks, alone.leaks, atol=1e-6)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.integers(0, 2**32 - 1))
def test_two_things_at_once_tell_at_least_as_much_as_either(seed: int) -> None:
    rng = np.random.default_rng(seed)
    network, seals, zones = made_up(rng)
    known = some_known(rng, network)
    first, second = (look_at(rng, network, [z], sure=False) for z in zones[:2])
    both = Reads((*first.things, *second.things), (*first.dry, *second.dry))
    one, other, together = outlooks(compile_network(network), known, [first, second, both], seals)
    assert together.bits >= max(one.bits, other.bits) - 1e-9


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.integers(0, 2**32 - 1), st.integers(2, 5))
def test_no_look_tells_less_than_any_one_thing_it_reads(seed: int, things: int) -> None:
    rng = np.random.default_rng(seed)
    network, seals, _ = made_up(rng)
    known = some_known(rng, network)
    names = [str(n) for n in rng.permutation(network.names)[:things]]
    whole = look_at(rng, network, names)
    each = [Reads((t,), (d,)) for t, d in zip(whole.things, whole.dry, strict=True)]
    together, *singles = outlooks(compile_network(network), known, [whole, *each], seals)
    assert together.bits >= max(o.bits for o in singles) - 1e-9


@pytest.mark.parametrize("seed", range(20))
def test_several_wet_things_are_told_apart_by_the_one_that_tells_most(seed: int) -> None:
    rng = np.random.default_rng(5000 + seed)
    network, seals, zones = made_up(rng)
    reads = look_at(rng, network, [*zones, seals[0]])
    found = outlooks(compile_network(network), {}, [reads], seals)[0]
    every = [information(gone_through(network, {}, reads, seals, t)) for t in reads.things]
    assert found.bits == pytest.approx(max(every), abs=1e-7)


def test_a_mess_that_is_wet_all_over_can_still_be_told_apart_by_one_dry_thing() -> None:
    """By hand: two zones always wet, and a third that is wet just where the seal point leaks."""
    leak = Variable("seal", SEAL)
    wet = [Variable(f"always{k}", ("dry", "wet")) for k in range(2)]
    tables = [Table("seal", (), np.array([0.5, 0.5, 0.0, 0.0]))]
    tables += [Table(w.name, (), np.array([0.0, 1.0])) for w in wet]
    sure = np.array([1.0, 0.0])
    reads = Reads(
        ("always0", "always1", "seal"),
        ({"always0": sure}, {"always1": sure}, {"seal": np.array([1.0, 0.0, 0.0, 0.0])}),
    )
    tree = compile_network(Network((leak, *wet), tuple(tables)))
    found = outlooks(tree, {}, [reads], ["seal"])[0]
    chances = dict(zip(found.labels, found.chance, strict=True))
    assert chances["several wet, not seal"] == pytest.approx(0.5)
    assert chances["several wet, seal too"] == pytest.approx(0.5)
    assert found.bits == pytest.approx(1.0)


def apart() -> JunctionTree:
    """A seal point, a zone it wets, and a zone it has nothing to do with."""
    variables = (
        Variable("seal", SEAL),
        Variable("under_it", ("dry", "wet")),
        Variable("elsewhere", ("dry", "wet")),
    )
    wet = np.array([[0.95, 0.6, 0.3, 0.1], [0.05, 0.4, 0.7, 0.9]])
    tables = (
        Table("seal", (), np.array([0.7, 0.1, 0.15, 0.05])),
        Table("under_it", ("seal",), wet),
        Table("elsewhere", (), np.array([0.4, 0.6])),
    )
    return compile_network(Network(variables, tables))


DRY = np.array([0.9, 0.2])


def test_by_hand() -> None:
    found = outlooks(apart(), {}, [Reads(("under_it",), ({"under_it": DRY},))], ["seal"])[0]
    # P(read dry | tight) = 0.95 * 0.9 + 0.05 * 0.2 = 0.865, and so on.
    dry = 0.7 * 0.865 + 0.1 * 0.62 + 0.15 * 0.41 + 0.05 * 0.27
    assert found.labels == ("dry", "wet")
    assert found.chance == pytest.approx([dry, 1 - dry])
    assert found.leaks[0] == pytest.approx([1 - 0.7 * 0.865 / dry])
    assert found.leaks[1] == pytest.approx([1 - 0.7 * 0.135 / (1 - dry)])


def test_what_has_nothing_to_do_with_it_tells_nothing() -> None:
    looks = [
        Reads(("elsewhere",), ({"elsewhere": DRY},)),
        # Wet or dry by the toss of a coin, whatever there is.
        Reads(("under_it",), ({"under_it": np.array([0.5, 0.5])},)),
    ]
    for outlook in outlooks(apart(), {"under_it": np.array([0.3, 0.8])}, looks, ["seal"]):
        assert outlook.bits == pytest.approx(0.0, abs=1e-12)


def test_a_sure_look_at_the_seal_point_tells_all_there_is_to_know() -> None:
    sure = Reads(("seal",), ({"seal": np.array([1.0, 0.0, 0.0, 0.0])},))
    found = outlooks(apart(), {}, [sure], ["seal"])[0]
    assert found.chance == pytest.approx([0.7, 0.3])
    assert found.leaks == pytest.approx(np.array([[0.0], [1.0]]))
    assert found.bits == pytest.approx(entropy(0.3))


def test_an_outcome_that_cannot_be_has_no_chance() -> None:
    """Where a leak is certain and cannot be missed, it is never read dry."""
    leaking = {"seal": np.array([0.0, 0.0, 0.0, 1.0])}
    surely = Reads(("seal",), ({"seal": np.array([1.0, 0.0, 0.0, 0.0])},))
    other = Reads(("under_it",), ({"under_it": DRY},))
    two = Reads(("seal", "under_it"), (*surely.dry, *other.dry))
    one, same, both = outlooks(apart(), leaking, [surely, other, two], ["seal"])
    assert one.chance == pytest.approx([0.0, 1.0])
    assert one.leaks == pytest.approx(1.0)
    assert same.chance == pytest.approx([0.27, 0.73])
    assert dict(zip(both.labels, both.chance, strict=True)) == pytest.approx(
        {"all dry": 0.0, "only seal wet": 0.27, "only under_it wet": 0.0, "both wet": 0.73}
    )
    assert one.bits == same.bits == both.bits == 0.0


def test_what_is_known_and_cannot_be_is_refused() -> None:
    tree = apart()
    nothing = {"seal": np.zeros(4)}
    with pytest.raises(ImpossibleEvidence):
        outlooks(tree, nothing, [Reads(("under_it",), ({"under_it": DRY},))], ["seal"])


def test_no_looks_and_looks_that_say_nothing() -> None:
    tree = apart()
    assert outlooks(tree, {}, [], ["seal"]) == []
    # Nothing can wet that zone, so there is no variable: it is dry for certain.
    empty: list[Reads] = [Reads(("dead_end",), ({},)), Reads((), ())]
    for outlook in outlooks(tree, hard(tree.network, {"under_it": "wet"}), empty, ["seal"]):
        assert outlook.chance == pytest.approx([1.0, 0.0])
        # 0.3 * ... by hand: P(tight | wet) = 0.7 * 0.05 / (0.035 + 0.04 + 0.105 + 0.045).
        assert outlook.leaks == pytest.approx(1 - 0.035 / 0.225)
        assert outlook.bits == 0.0
    found = outlooks(tree, {}, [*empty, Reads(("elsewhere",), ({"elsewhere": DRY},))], ["seal"])
    assert found[0].chance == pytest.approx([1.0, 0.0])
    assert found[2].chance == pytest.approx([0.48, 0.52])
