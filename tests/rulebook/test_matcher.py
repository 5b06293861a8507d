"""Both engines must give the answers of the direct evaluator, bit for bit, on any rule book and visit; and refuse alike."""

from __future__ import annotations

import importlib
import itertools
import math
import os
import pickle
import random
import subprocess
import sys
import threading
import tracemalloc
from concurrent.futures import ThreadPoolExecutor

import pytest
from direct_matcher import DirectMatcher
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from work import examples

from diagnose.rulebook.matcher import Firing, MatcherError, Pattern, compile_patterns, matcher_for, plan, strata
from diagnose.rulebook.matcher.durable_rules import importable
from diagnose.rulebook.matcher.plan import encode, fact_id, id_hash

needs_durable = pytest.mark.skipif(not importable(), reason="durable-rules does not load here")
ENGINES = [pytest.param("durable-rules", marks=needs_durable), "plain"]
many = settings(max_examples=examples(12).max_examples, deadline=None, suppress_health_check=list(HealthCheck))

# Names that a JSON or number parser could trip over are among them on purpose.
FINDINGS = ["superheat", "liquid line: Δt", "5", "a_b", "a b"]
STATES = [["evaporator feed"], ["condenser liquid"], ["compression"]]  # by level
WORDS = ["low", "normal", "high", "05", "null", 'say "x"']


def all_of(**tests: str | list[str]) -> tuple[tuple[str, frozenset[str]], ...]:
    """all_of(superheat="high", subcooling=["low", "normal"])"""
    return tuple((name, frozenset([words] if isinstance(words, str) else words)) for name, words in tests.items())


def rule(id: str, concludes: tuple[str, str] | None = None, **tests: str | list[str]) -> Pattern:
    return Pattern(id, all_of(**tests), concludes=concludes)


def some_tests(findings: list[str]):
    test = st.tuples(st.sampled_from(findings), st.frozensets(st.sampled_from(WORDS), min_size=1, max_size=3))
    return st.lists(test, min_size=1, max_size=3).map(tuple)


def possible(when, branch) -> bool:
    allowed: dict[str, frozenset[str]] = {}
    for name, words in when + branch:
        allowed[name] = allowed.get(name, words) & words
    return all(allowed.values())


@st.composite
def pattern(draw, id: str, findings: list[str], concludes: tuple[str, str] | None = None) -> Pattern:
    when = draw(some_tests(findings).filter(lambda w: possible(w, ())))
    branches = draw(st.lists(some_tests(findings), max_size=2))
    either = tuple(b for b in branches if possible(when, b))
    return Pattern(id, when, either, concludes)


@st.composite
def rule_books(draw) -> tuple[Pattern, ...]:
    patterns, readable = [], list(FINDINGS)
    for level in STATES:
        for state in level:
            for i in range(draw(st.integers(0, 3))):
                concludes = (state, draw(st.sampled_from(WORDS)))
                patterns.append(draw(pattern(f"{state}/{i}", readable, concludes)))
        # a state that no rule of this book concludes is a finding like any other: never measured here
        readable += level
    patterns += [draw(pattern(f"fault/{i}", readable)) for i in range(draw(st.integers(1, 5)))]
    return tuple(draw(st.permutations(patterns)))


eighths = st.integers(0, 8).map(lambda i: i / 8)  # few values, so that alternatives are often equally sure
probability = st.one_of(
    eighths, st.floats(0, 1), st.sampled_from([0.0, -0.0, -1.0, 1.0, 0.1, 5e-324, 1.5, math.nan, math.inf, -math.inf])
)
visits = st.dictionaries(st.sampled_from(FINDINGS), st.dictionaries(st.sampled_from(WORDS), probability), max_size=5)


def exactly(matched):
    """Everything that was said, order included, except the order of the words in a state."""
    return [(f.rule, f.sure, f.words) for f in matched.firings], matched.states


@pytest.mark.parametrize("engine", ENGINES)
@many
@given(rule_books(), st.lists(visits, min_size=1, max_size=4))
def test_both_engines_agree_exactly_with_the_direct_one(engine, patterns, given_visits):
    matcher, direct = compile_patterns(patterns, engine), DirectMatcher(patterns)
    for words in given_visits:
        want = exactly(direct.run(words))
        assert exactly(matcher.run(words)) == want
        assert exactly(matcher.run({})) == ([], {})
        assert exactly(matcher.run(words)) == want  # nothing was left over
        assert all(0 < sure <= 1 for _, sure, _ in want[0])


@many
@given(rule_books(), visits, visits)
def test_changing_some_findings_is_the_same_as_running_anew(patterns, words, changed):
    """Whatever `touched` leaves out stands as it was."""
    matcher = compile_patterns(patterns, "plain")
    before = matcher.certainties(words)
    kept = [list(numbers) for numbers in before]
    after = matcher.again(before, changed)
    whole = {f.rule: f.sure for f in matcher.run(words | changed).firings}
    assert after.patterns == [whole.get(p.id, 0.0) for p in patterns]
    assert after == matcher.certainties(words | changed)
    assert [list(numbers) for numbers in before] == kept
    differ = {i for i, (old, new) in enumerate(zip(before.patterns, after.patterns, strict=True)) if old != new}
    assert differ <= set(matcher.touched(changed))
    gone = matcher.again(after, {name: {} for name in changed})
    assert gone == matcher.certainties({name: of for name, of in words.items() if name not in changed})


@needs_durable
@settings(many, max_examples=examples(8).max_examples)
@given(rule_books(), st.lists(visits, min_size=2, max_size=3), st.randoms(use_true_random=False))
def test_order_does_not_matter(patterns, given_visits, rnd):
    shuffled_rules = rnd.sample(patterns, len(patterns))
    for engine in ("durable-rules", "plain"):
        one, other = compile_patterns(patterns, engine), compile_patterns(shuffled_rules, engine)
        for words in given_visits:  # interleaved: each visit finds the session the one before left
            shuffled = {
                name: dict(rnd.sample(list(of.items()), len(of)))
                for name, of in rnd.sample(list(words.items()), len(words))
            }
            a, b = one.run(words), other.run(shuffled)
            assert sorted(a.firings, key=lambda f: f.rule) == sorted(b.firings, key=lambda f: f.rule)
            assert [f.rule for f in b.firings] == [p.id for p in shuffled_rules if p.id in {f.rule for f in a.firings}]
            assert a.states == b.states


full_visits = st.fixed_dictionaries({f: st.fixed_dictionaries({w: st.floats(0, 1) for w in WORDS}) for f in FINDINGS})


def sures(matcher, words) -> dict[str, float]:
    return {f.rule: f.sure for f in matcher.run(words).firings}


@pytest.mark.parametrize("engine", ENGINES)
@settings(many, max_examples=examples(4).max_examples)
@given(rule_books(), full_visits, st.floats(0, 1e-3), st.randoms(use_true_random=False))
def test_sure_is_continuous(engine, patterns, words, eps, rnd):
    matcher = compile_patterns(patterns, engine)
    moved = {
        f: {w: min(1.0, max(0.0, p + rnd.choice([-eps, 0, eps]))) for w, p in of.items()} for f, of in words.items()
    }
    before, after = sures(matcher, words), sures(matcher, moved)
    # 4 levels, each summing at most 3 allowed words; a rule that fires in one of the two only has sure 0 in the other
    for name in before.keys() | after.keys():
        assert abs(before.get(name, 0.0) - after.get(name, 0.0)) <= eps * 3**4 + 1e-12


@pytest.mark.parametrize("engine", ENGINES)
@settings(many, max_examples=examples(8).max_examples)
@given(rule_books(), full_visits, st.sampled_from(FINDINGS), st.sampled_from(WORDS), st.floats(0, 1))
def test_more_of_an_allowed_word_never_lowers_sure(engine, patterns, words, finding, word, more):
    matcher = compile_patterns(patterns, engine)
    raised = {f: dict(of) for f, of in words.items()}
    raised[finding][word] += more
    before, after = sures(matcher, words), sures(matcher, raised)
    for name, sure in before.items():
        assert after[name] >= sure


@pytest.mark.parametrize("engine", ENGINES)
def test_an_example_by_hand(engine):
    patterns = (
        rule("starved", ("feed", "starved"), superheat=["high", "very high"]),
        rule("starved-too", ("feed", "starved"), airflow="low"),
        Pattern("low", all_of(feed="starved"), (all_of(subcooling="low"), all_of(liquid="short", age="old"))),
        rule("over", subcooling="high", superheat="low"),
    )
    words = {
        "superheat": {"normal": 0.1, "high": 0.5, "very high": 0.4, "low": 0.0},
        "subcooling": {"low": 0.3, "high": 0.7},
        "liquid": {"short": 0.8},
        "age": {"old": 0.6, "new": 0.4},
        "nobody reads this": {"x": 1.0},
    }
    matched = compile_patterns(patterns, engine).run(words)
    assert matched.firings == (
        Firing("starved", 0.9, (("superheat", (("high", 0.5), ("very high", 0.4))),)),
        Firing("low", 0.6, (("feed", (("starved", 0.9),)), ("liquid", (("short", 0.8),)), ("age", (("old", 0.6),)))),
    )
    assert matched.states == {"feed": {"starved": 0.9}}


@pytest.mark.parametrize("engine", ENGINES)
def test_a_finding_named_twice_allows_the_common_words(engine):
    patterns = (Pattern("r", all_of(a=["low", "normal"]), (all_of(a=["normal", "high"]),)),)
    matcher = compile_patterns(patterns, engine)
    assert matcher.run({"a": {"low": 0.5, "high": 0.5}}).firings == ()
    assert matcher.run({"a": {"low": 0.5, "normal": 0.25}}).firings[0].sure == 0.25


@pytest.mark.parametrize("engine", ENGINES)
def test_a_state_takes_the_surest_of_its_rules(engine):
    patterns = [rule(f"r{i}", ("state", "x"), **{f"f{i}": "x"}) for i in range(3)] + [rule("r", state="x")]
    matched = compile_patterns(patterns, engine).run({"f0": {"x": 0.5}, "f1": {"x": 0.9}, "f2": {"x": 0.25}})
    assert matched.states == {"state": {"x": 0.9}}
    assert matched.firings[-1].sure == 0.9


@pytest.mark.parametrize("engine", ENGINES)
def test_of_equally_sure_alternatives_the_first_is_told(engine):
    patterns = (Pattern("r", (), tuple(all_of(**{name: "x"}) for name in "bac")),)
    matched = compile_patterns(patterns, engine).run({"a": {"x": 0.5}, "b": {"x": 0.25}, "c": {"x": 0.5}})
    assert matched.firings == (Firing("r", 0.5, (("a", (("x", 0.5),)),)),)


@pytest.mark.parametrize("engine", ENGINES)
def test_a_state_cannot_be_given(engine):
    matcher = compile_patterns([rule("r", ("feed", "starved"), a="low")], engine)
    with pytest.raises(MatcherError, match="'feed' is a state") as caught:
        matcher.run({"feed": {"starved": 1.0}})
    assert caught.value.rules == ("r",)
    assert matcher.run({"a": {"low": 1.0}}).states == {"feed": {"starved": 1.0}}


def test_strata():
    patterns = [
        rule("3", ("c", "x"), b="x", f="x"),
        rule("2", ("b", "x"), a="x"),
        rule("1", ("a", "x"), f="x"),
        rule("0", c="x"),
        rule("1b", ("d", "x"), f="x"),
    ]
    assert strata(patterns) == [["a", "d"], ["b"], ["c"]]
    assert strata([]) == []


def test_a_deep_chain_of_states():
    patterns = [rule("s0", ("s0", "x"), f="x")] + [
        rule(f"s{i}", (f"s{i}", "x"), **{f"s{i - 1}": "x"}) for i in range(1, 60)
    ]
    for engine in ("auto", "plain"):
        matched = compile_patterns(patterns, engine).run({"f": {"x": 0.25}})
        assert [f.sure for f in matched.firings] == [0.25] * 60


def test_a_loop_is_named():
    patterns = [
        rule("one", ("a", "x"), c="x"),
        rule("two", ("b", "x"), a="x"),
        Pattern("three", all_of(f="x"), (all_of(b="y"),), ("c", "x")),
        rule("innocent", ("c", "x"), f="x"),
    ]
    with pytest.raises(MatcherError, match=r"loop: (a -> b -> c -> a|b -> c -> a -> b|c -> a -> b -> c)") as caught:
        strata(patterns)
    assert caught.value.rules == ("one", "two", "three")
    assert caught.value.fix
    with pytest.raises(MatcherError, match="a -> a"):
        compile_patterns([rule("self", ("a", "x"), a="x")])


# An alternative may read 16 findings, and an `any:` have 30 maps.
BAD = [
    ([rule("r", **{f"f{i}": "x" for i in range(17)})], "needs 17 findings at once", ("r",)),
    ([Pattern("r", (), tuple(all_of(**{f"f{i}": "x"}) for i in range(31)))], "has 31 maps in its `any:`", ("r",)),
    ([rule("r", a="x"), rule("r", b="x")], "two rules have the id 'r'", ("r",)),
    ([Pattern("r", ())], "no conditions", ("r",)),
    ([rule("r", a=[])], "leaves no word that 'a' may have", ("r",)),
    ([Pattern("r", all_of(a="low"), (all_of(b="x"), all_of(a="high")))], "map 2 .* leaves no word that 'a'", ("r",)),
    ([Pattern("r", all_of(a="low"), ((),))], "`any:` is empty", ("r",)),
    ([rule("r", superheat="hmbgyikgaerk"), rule("s", superheat="kdbbokuqourl")], "cannot be told apart", ("r", "s")),
]


@pytest.mark.parametrize("engine", ["durable-rules", "plain"])
@pytest.mark.parametrize(("patterns", "says", "rules"), BAD)
def test_limits_are_friendly_and_the_same_for_both(patterns, says, rules, engine, monkeypatch):
    monkeypatch.setitem(sys.modules, "durable.engine", None)  # found out before the engine is touched at all
    with pytest.raises(MatcherError, match=says) as caught:
        compile_patterns(patterns, engine)
    assert caught.value.rules == rules
    assert caught.value.fix in str(caught.value)


@needs_durable
def test_at_the_limits_it_still_works():
    patterns = [
        rule("sixteen", **{f"f{i}": "x" for i in range(16)}),
        rule("many ways", **{f"f{i}": list("xabc") for i in range(16)}),
        Pattern("thirty", (), tuple(all_of(**{f"f{i}": ["x", f"y{n}"] for i in range(16)}) for n in range(30))),
        rule("words", w=[f"w{i}" for i in range(64)]),
    ]
    words = {f"f{i}": dict.fromkeys("xabc", 0.01) for i in range(16)} | {"w": {f"w{i}": 0.01 for i in range(64)}}
    matched = compile_patterns(patterns, "durable-rules").run(words)
    assert exactly(matched) == exactly(DirectMatcher(patterns).run(words))
    assert len(matched.firings) == 4


@needs_durable
@pytest.mark.parametrize(
    "patterns",
    [
        [rule(f"r{i}", shared="x", **{f"f{i % 40}": "x"}) for i in range(600)],  # 250 rules sharing a word
        [rule(f"r{i}", shared="x") for i in range(300)],
        [rule(f"r{i}", **{f"f{i}": "x", "g": f"w{i}"}) for i in range(700)],  # 500 words
        [
            rule(f"r{i}", **{f"f{i % 50}": list("xabcdefg"), "g": f"w{i % 100}"}) for i in range(1100)
        ],  # 1000 alternatives
    ],
)
def test_large_books_are_split_without_changing_the_answer(patterns):
    patterns = [*patterns, rule("s", ("state", "x"), shared="x"), rule("t", state="x", f1="x")]
    groups = plan.make_plan(patterns).rulesets
    assert len(groups) > 1
    rules_in = [{a.pattern for a in group} for group in groups]
    assert sum(map(len, rules_in)) == len(set().union(*rules_in)) == len(patterns)  # each rule whole, in one ruleset
    words = {f"f{i}": {"x": 0.5, "a": 0.2} for i in range(0, 700, 3)} | {"f1": {"x": 0.25}, "shared": {"x": 0.75}}
    words["g"] = {f"w{i}": 0.9 for i in range(0, 700, 2)}
    want = exactly(DirectMatcher(patterns).run(words))
    assert exactly(compile_patterns(patterns, "plain").run(words)) == want
    durable = compile_patterns(patterns, "durable-rules")
    assert exactly(durable.run(words)) == want
    assert exactly(durable.run(words)) == want
    assert want[0]


@given(st.lists(st.text(), min_size=2, max_size=2, unique=True))
def test_encoding_keeps_names_apart(names):
    one, other = map(encode, names)
    assert one != other
    assert set(one) <= set("abcdefghijklmnopqrstuvwxyz0123456789_#")
    assert one
    assert not one[0].isdigit()


@needs_durable
def test_the_hash_is_the_one_durable_rules_uses():
    """Two ids of one hash are one fact there: this is what the check guards against."""
    pair = [("superheat", ("hmbgyikgaerk",)), ("superheat", ("kdbbokuqourl",))]
    assert id_hash(fact_id(pair[0])) == id_hash(fact_id(pair[1]))
    from diagnose.rulebook.matcher.durable_rules import _Ruleset

    observed = importlib.import_module("durable.engine").MessageObservedException
    ruleset = _Ruleset("r", [plan.Alternative(i, (i,)) for i in range(2)], pair)
    with pytest.raises(observed):
        ruleset.push([0, 1])


BOOK = (
    rule("starved", ("feed", "starved"), superheat=["high", "very high"]),
    rule("short", ("liquid", "short"), subcooling="low", feed="starved"),
    Pattern("low charge", all_of(liquid="short"), (all_of(ice="none"), all_of(filter="clean"))),
    rule("over", superheat="low", subcooling="high"),
)
VISIT = {"superheat": {"high": 0.9, "normal": 0.1}, "subcooling": {"low": 0.7, "normal": 0.3}, "ice": {"none": 1.0}}


@needs_durable
@pytest.mark.parametrize("error", [RuntimeError("injected"), KeyboardInterrupt(), SystemExit(3), MemoryError()])
def test_an_exception_in_the_middle_comes_out_and_leaves_the_matcher_usable(error, monkeypatch):
    """Facts are in, half of what fires was read off: the next visit must see nothing of it."""
    matcher = compile_patterns(BOOK, "durable-rules")
    want = exactly(matcher.run(VISIT))
    alternatives = matcher._rulesets[0]._alternatives

    class Fails(dict):
        def __getitem__(self, rule):
            raise error

    monkeypatch.setattr(matcher._rulesets[0], "_alternatives", Fails(alternatives))
    with pytest.raises(type(error)):
        matcher.run(VISIT)
    assert exactly(matcher.run({})) == ([], {})
    assert exactly(matcher.run(VISIT)) == want


@needs_durable
@pytest.mark.parametrize("method", ["retract", "fired_by"])
def test_an_exception_between_the_calls_leaves_the_matcher_usable(method, monkeypatch):
    matcher = compile_patterns(BOOK, "durable-rules")
    want = exactly(matcher.run(VISIT))

    def fail(*_):
        raise OSError("injected")

    monkeypatch.setattr(matcher._rulesets[0]._rules, method, fail)
    with pytest.raises(OSError, match="injected"):
        matcher.run(VISIT)
    assert exactly(matcher.run({})) == ([], {})
    assert exactly(matcher.run(VISIT)) == want


@needs_durable
def test_the_clock_is_not_asked(monkeypatch):
    """By its own loop durable-rules drops a rule that seems to have taken 10 s, and stops there without saying so."""
    matcher = compile_patterns(BOOK, "durable-rules")
    want = exactly(matcher.run(VISIT))
    engine = importlib.import_module("durable.engine")
    monkeypatch.setattr(engine, "_unix_now", lambda: pytest.fail("asked"))
    assert exactly(matcher.run(VISIT)) == want


@needs_durable
def test_threads_share_one_matcher():
    matcher, plain = compile_patterns(BOOK, "durable-rules"), compile_patterns(BOOK, "plain")
    rnd = random.Random(1)
    some = [
        {
            f: {w: rnd.random() for w in rnd.sample(["low", "normal", "high", "very high", "none", "clean"], 3)}
            for f in fs
        }
        for fs in (rnd.sample(["superheat", "subcooling", "ice", "filter"], 3) for _ in range(300))
    ]
    want = [exactly(plain.run(words)) for words in some]
    start = threading.Barrier(4)

    def work(_: int) -> bool:
        start.wait()
        return [exactly(matcher.run(words)) for words in some] == want

    with ThreadPoolExecutor(4) as pool:
        assert all(pool.map(work, range(4)))


@needs_durable
@pytest.mark.skipif(not hasattr(os, "fork"), reason="no fork here")
def test_a_forked_child_can_use_the_matcher():
    """Also where another thread was in the middle of a run, so that its lock is held for ever in the child."""
    program = """
import os, pickle, sys
from diagnose.rulebook.matcher import compile_patterns
book, visit = pickle.load(sys.stdin.buffer)
matcher = compile_patterns(book, "durable-rules")
want = matcher.run(visit)
for busy in (False, True):
    if busy: matcher._lock.acquire()
    child = os.fork()
    if child == 0:
        os._exit(matcher.run(visit) != want)
    print(os.waitpid(child, 0)[1])
"""
    given = pickle.dumps((BOOK, VISIT))
    done = subprocess.run([sys.executable, "-c", program], input=given, capture_output=True, timeout=120, check=False)
    assert done.stdout == b"0\n0\n", done.stderr


def rss_mib() -> float:
    with open("/proc/self/statm", encoding="ascii") as file:
        return int(file.read().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 2**20


@needs_durable
@pytest.mark.skipif(not os.path.exists("/proc/self/statm"), reason="needs /proc")
def test_memory_stays_flat():
    matcher = compile_patterns(BOOK, "durable-rules")
    rnd = random.Random(2)

    def runs(n: int) -> None:
        for _ in range(n):
            matcher.run({f: {w: rnd.random() for w in ("low", "high")} for f in ("superheat", "subcooling", "ice")})

    runs(1000)
    before = rss_mib()
    runs(4000)
    assert rss_mib() - before < 4
    tracemalloc.start()
    try:
        runs(50)
        held = tracemalloc.get_traced_memory()[0]
        runs(200)
        assert tracemalloc.get_traced_memory()[0] - held < 50_000
    finally:
        tracemalloc.stop()


def test_plain_is_chosen_where_durable_rules_does_not_load(monkeypatch):
    monkeypatch.setitem(sys.modules, "durable.engine", None)
    matcher = compile_patterns(BOOK)
    assert matcher.name == "plain"
    assert [f.rule for f in matcher.run(VISIT).firings] == ["starved", "short", "low charge"]
    with pytest.raises(MatcherError, match="not installed"):
        compile_patterns(BOOK, "durable-rules")


@needs_durable
def test_durable_rules_is_chosen_where_it_loads():
    assert compile_patterns(BOOK).name == "durable-rules"


def test_importing_the_matcher_does_not_load_durable_rules():
    program = "import sys, diagnose.rulebook.matcher; sys.exit('durable' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", program], check=False).returncode == 0


@needs_durable
def test_no_threads_are_started():
    before = threading.active_count()
    compile_patterns(BOOK, "durable-rules").run(VISIT)
    assert threading.active_count() == before


def test_matchers_are_kept():
    assert matcher_for(BOOK) is matcher_for(tuple(BOOK))
    assert matcher_for(BOOK, "plain") is not matcher_for(BOOK, "auto")
    assert matcher_for.cache_info().maxsize == 32


@needs_durable
def test_what_never_comes_back_is_taken_so_often_and_no_more(monkeypatch):
    few = tuple(Pattern(f"few/{i}", (("superheat", frozenset({"high"})),)) for i in range(5))
    monkeypatch.setattr("diagnose.rulebook.matcher.MOST_COMPILED", 3)
    monkeypatch.setattr("diagnose.rulebook.matcher._COMPILED", itertools.count())
    assert [matcher_for((one,)).name for one in few] == ["durable-rules"] * 3 + ["plain"] * 2
    assert matcher_for(few, "durable-rules").name == "durable-rules"  # asked for


def test_no_rules_at_all():
    for engine in ("auto", "plain"):
        assert exactly(compile_patterns([], engine).run(VISIT)) == ([], {})
