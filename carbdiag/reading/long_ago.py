"""Which sentences of a post tell of a time long past: "two years ago I rebuilt the carb ..."."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from carbdiag.reading.post import Post
from carbdiag.reading.spoken import Turn


def sentences_long_ago(post: Post, turns: Iterable[Turn]) -> frozenset[int]:
    """The numbers of the sentences whose deeds turns of speech put long ago."""
    told = list(turns)
    since = _from_there_on(post, (t.before for t in told if t.reach == "deed"))
    return frozenset((*since, *_up_to_there(post, (t.before for t in told if t.reach == "deed_before"))))


def _from_there_on(post: Post, told: Iterable[int]) -> Iterator[int]:
    """The sentence: "a year ago ..." and, where it opens a paragraph, that paragraph."""
    sentences, sentence_of = post.symbols.sentences, post.symbols.sentence_of
    for at in told:
        n = sentence_of[at] if at < len(sentence_of) else len(sentences)
        first = n
        opens = n == 0 or (0 < n < len(sentences) and _ends_a_paragraph(post, n - 1))
        while opens and n + 1 < len(sentences) and not _ends_a_paragraph(post, n):
            n += 1
        # the last paragraph goes on to what is now
        yield from range(first, (n if n + 1 < len(sentences) else first) + 1)


def _up_to_there(post: Post, told: Iterable[int]) -> Iterator[int]:
    """The sentence that the next one puts long ago, and that one: "... and it ran better. That was in 2019."."""
    sentence_of = post.symbols.sentence_of
    for at in told:
        n = sentence_of[at] if at < len(sentence_of) else 0
        if n and post.symbols.sentences[n].first == at:
            yield from (n - 1, n)


def _ends_a_paragraph(post: Post, n: int) -> bool:
    symbols = post.symbols
    after = symbols.sentences[n + 1]
    end = symbols.starts[after.first] if after.first < len(symbols.starts) else len(post.text)
    begin = symbols.ends[symbols.sentences[n].last - 1] if symbols.sentences[n].last else 0
    return "\n" in post.text[begin:end]
