"""The sentence language: its grammar, its three values, and what a slip is told.

The reader is checked against the grammar as it is published on the format's page, given to lark (LALR): the
two must take the same sentences and make the same trees of them.
"""

from functools import cache
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lark import Lark
from lark.exceptions import LarkError

from loomlore.findings import UnreadableValue
from loomlore.sentences import (
    KEYWORDS,
    And,
    Compare,
    Holds,
    Is,
    Not,
    Or,
    conjunction,
    mixes_and_with_or,
    read_sentence,
    truth,
    words_of,
)
from loomlore.sentences import tests_of as single_tests_of

GRAMMAR = r"""
?start: sentence
?sentence: conj ("or" conj)*                -> either
?conj: neg ("and" neg)*                     -> both
?neg: "not" neg                             -> negation
    | "(" sentence ")"                      -> bracket
    | test
?test: name                                 -> holds
    | name "is" choice                      -> is_
    | name "is" "not" choice                -> is_not
    | measure CMP quantity                  -> compare
    | quantity CMP measure CMP quantity     -> between
choice: word                                -> single
    | word "through" word                   -> span
    | "one" "of" "(" word ("," word)* ")"   -> several
?measure: name                              -> of_name
    | "volts" "across" name                 -> volts_across
    | "volts" "at" name                     -> volts_at
    | "amps" "in" name                      -> amps_in
name: WORD | QUOTED
word: WORD | QUOTED
quantity: NUMBER UNIT?
CMP: "<=" | ">=" | "<" | ">"
NUMBER.2: /-?[0-9]+(\.[0-9]+)?(\/[0-9]+)?(?![A-Za-z0-9_.-])/
UNIT.2: /(?<=[0-9] )(rev\/min|kt|ohm|mV|V|mA|A|W|mm|m|s|min|%|deg|lb\/in2|gal\(UK\))(?![A-Za-z0-9-])/
QUOTED: /'[^']*'/
WORD: /[A-Za-z][A-Za-z0-9-]*(\.[A-Za-z0-9_+#\/-]+)*/
%ignore /[ \t]+/
"""


@cache
def grammar():
    return Lark(GRAMMAR, parser="lalr", maybe_placeholders=False)


def tree_of(node):
    """A lark tree as nested tuples."""
    if not hasattr(node, "data"):
        return str(node).strip("'")
    kids = [tree_of(child) for child in node.children]
    match str(node.data):
        case "either" | "both" if len(kids) == 1:
            return kids[0]
        case "bracket":
            return kids[0]
        case "name" | "word":
            return kids[0]
        case "quantity":
            return " ".join(kids)
        case data:
            return (data, *kids)


def shape_of(sentence):
    """A sentence of ours in the same form."""
    match sentence:
        case Or(parts):
            return ("either", *map(shape_of, parts))
        case And(parts):
            return ("both", *map(shape_of, parts))
        case Not(part):
            return ("negation", shape_of(part))
        case Holds(name):
            return ("holds", name)
        case Is(name, words, span, negated):
            form = "span" if span else "several" if len(words) > 1 else "single"
            return ("is_not" if negated else "is_", name, (form, *words))
        case Compare(measure, limits):
            of = {
                "name": "of_name",
                "volts across": "volts_across",
                "volts at": "volts_at",
                "amps in": "amps_in",
            }
            inner = (of[measure.of], measure.name)
            if len(limits) == 1:
                return ("compare", inner, limits[0][0], limits[0][1].text)
            (low_sign, low), (high_sign, high) = limits
            mirror = {"<": ">", "<=": ">=", ">": "<", ">=": "<="}
            return ("between", low.text, mirror[low_sign], inner, high_sign, high.text)


names = st.sampled_from(
    ["horn", "wheels", "port-lamp", "fuse-box-a.3", "battery.+", "fire-lever.handle", "'12 A'"]
)
words = st.sampled_from(["up", "down", "moving", "in", "fully-out", "'3'"])
amounts = st.sampled_from(["0.2", "26.8 V", "-5 A", "80 kt", "1/3 A", "2200 rev/min", "12 lb/in2", "0"])
measures = st.one_of(
    names,
    names.map("volts across {}".format),
    names.map("volts at {}".format),
    names.map("amps in {}".format),
)
choices = st.one_of(
    words,
    st.tuples(words, words).map(" through ".join),
    st.lists(words, min_size=2, max_size=3, unique=True).map(lambda w: f"one of ({', '.join(w)})"),
)
ups, downs = st.sampled_from(["<", "<="]), st.sampled_from([">", ">="])
between = st.one_of(
    st.tuples(amounts, signs, measures, signs, amounts).map(" ".join) for signs in (ups, downs)
)
tests = st.one_of(
    names,
    st.tuples(names, st.sampled_from([" is ", " is not "]), choices).map("".join),
    st.tuples(measures, st.one_of(ups, downs), amounts).map(" ".join),
    between,
)
sentences = st.recursive(
    tests,
    lambda inner: st.one_of(
        st.lists(inner, min_size=2, max_size=3).map(" and ".join),
        st.lists(inner, min_size=2, max_size=3).map(" or ".join),
        inner.map("not {}".format),
        inner.map("({})".format),
    ),
    max_leaves=8,
)


@given(sentences)
def test_the_reader_makes_the_tree_of_the_published_grammar(text):
    assert shape_of(read_sentence(text)) == tree_of(grammar().parse(text))


@given(
    st.lists(
        st.sampled_from(
            "horn wheels is not and or ( ) < > 5 V up one of , through volts across at amps in".split()
        ),
        max_size=9,
    )
)
def test_what_the_grammar_refuses_is_refused(tokens):
    text = " ".join(tokens)
    try:
        grammar().parse(text)
    except LarkError:
        # what is read all the same: a bare figure as a position, and a word of the language as a name
        ours_alone = {"and", "or", "at", "in", "of", "one", "across", "amps", "volts", "5"} & set(tokens)
        if not ours_alone:
            with pytest.raises(UnreadableValue):
                read_sentence(text)


@given(sentences)
def test_a_sentence_reads_back_from_its_own_words(text):
    tree = read_sentence(text)
    assert shape_of(read_sentence(str(tree))) == shape_of(tree)


@given(st.text(max_size=40))
def test_any_text_is_a_sentence_or_is_refused_with_a_hint(text):
    try:
        told = (str(read_sentence(text)),)
    except UnreadableValue as refused:
        told = (refused.message, refused.hint, 0 <= refused.column <= len(text) + 1)
    assert all(told)


@pytest.mark.parametrize(
    ("text", "column", "write"),
    [
        ("wheels = up", 8, "'is'"),
        ("wheels == up", 8, "'is'"),
        ("horn != sounding", 6, "'is not'"),
        ("a & b", 3, "'and'"),
        ("a || b", 3, "'or'"),
        ("wheels are down", 8, "'is'"),
        ("horn isn't sounding", 6, "'is not'"),
        ("horn sounding", 6, "'horn is sounding'"),
        ("throttle below 0.2", 10, "'<'"),
        ("throttle < two", 12, "figures"),
        ("throttle < 0,2", 12, "'0.2'"),
        ("speed > 80 knots", 9, "'80 kt'"),
        ("0.3 > throttle", 1, "'throttle < 0.3'"),
        ("0.2 < x > 0.1", 1, "alike"),
        ("volts main > 26 V", 7, "'volts across'"),
        ("amps main > 3 A", 6, "'amps in'"),
        ("x is one of a, b", 13, "'is one of (a, b)'"),
        ("x is one of (a b)", 16, "commas"),
        ("a and", 5, "behind 'and'"),
        ("a and and b", 7, "'and' once"),
        ("and a", 1, "before 'and'"),
        ("a and (b or c", 7, "')'"),
        ("a and b)", 8, "bracket"),
        ("a, b", 2, "'and' or 'or'"),
        ("x is", 4, "behind 'is'"),
        ("x <", 3, "'26.8 V'"),
        ("x > about 3 V", 5, "'26.8 V'"),
        ("'12 A > 3 A", 1, "both sides"),
        ("", 0, "leave the key out"),
    ],
)
def test_a_slip_is_told_where_and_what_to_write(text, column, write):
    with pytest.raises(UnreadableValue) as refused:
        read_sentence(text)
    assert write in refused.value.hint
    assert abs(refused.value.column - column) <= 1


def test_limits_are_kept():
    with pytest.raises(UnreadableValue, match="1001 characters"):
        read_sentence("a" * 1001)
    with pytest.raises(UnreadableValue, match="brackets"):
        read_sentence("(" * 33 + "a" + ")" * 33)
    assert read_sentence("(" * 32 + "a" + ")" * 32) == Holds("a", 33)
    assert read_sentence("not " * 240 + "a")


def test_and_beside_or_is_seen_unless_brackets_say_which():
    assert mixes_and_with_or(read_sentence("a and b or c"))
    assert mixes_and_with_or(read_sentence("a or b and c"))
    assert mixes_and_with_or(read_sentence("not (a or b and c)"))
    assert not mixes_and_with_or(read_sentence("(a and b) or c"))
    assert not mixes_and_with_or(read_sentence("a and (b or c)"))
    assert not mixes_and_with_or(read_sentence("a and b and not c"))


VALUES = (True, False, None)


def kleene(operator, one, other):
    """Kleene's strong tables (1952, section 64; from memory), unknown as a half."""
    number = {True: 1.0, False: 0.0, None: 0.5}
    result = min(number[one], number[other]) if operator == "and" else max(number[one], number[other])
    return {1.0: True, 0.0: False, 0.5: None}[result]


@pytest.mark.parametrize(("operator", "one", "other"), list(product(("and", "or"), VALUES, VALUES)))
def test_truth_follows_kleenes_strong_tables(operator, one, other):
    known = {"a": one, "b": other}
    sentence = read_sentence(f"a {operator} b")
    assert truth(sentence, lambda test: known[test.name]) == kleene(operator, one, other)


@pytest.mark.parametrize("value", VALUES)
def test_not_leaves_the_unknown_unknown(value):
    expected = None if value is None else not value
    assert truth(read_sentence("not a"), lambda test: value) is expected  # noqa: ARG005


def test_words_and_tests_come_in_order():
    sentence = read_sentence("wheels is up and not (horn is sounding or amps in H1 > 2 A) and wheels is down")
    assert words_of(sentence) == ("wheels", "horn", "H1")
    assert [t.column for t in single_tests_of(sentence)] == [1, 23, 43, 65]


def test_conjunction_joins_and_leaves_out_what_always_holds():
    a, b = read_sentence("a and b"), read_sentence("c or d")
    assert str(conjunction(None, a, None, b)) == "a and b and (c or d)"
    assert conjunction(None, None) is None
    assert conjunction(a) is not None


def test_no_keyword_is_an_id_and_each_is_a_word_of_the_grammar():
    for word in KEYWORDS:
        assert f'"{word}"' in GRAMMAR
