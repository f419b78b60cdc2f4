"""The feed, parsed by a general XML parser and held against RFC 4287 section by section."""

from __future__ import annotations

import re
from dataclasses import replace
from uuid import UUID
from xml.etree import ElementTree

import pandas as pd

from district.render.feed import ENTRIES, atom_feed
from tests.render.mornings import READ, SCRIPT, morning, no_morning

ATOM = "{http://www.w3.org/2005/Atom}"
DATE_TIME = re.compile(r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}Z")
"""RFC 3339, 5.6 date-time with an upper-case T and Z, as RFC 4287, 3.3 asks."""


def parsed(text: str) -> ElementTree.Element:
    return ElementTree.fromstring(text.encode("utf-8"))


def texts(parent: ElementTree.Element, name: str) -> list[str]:
    return [e.text or "" for e in parent.findall(f"{ATOM}{name}")]


def test_the_feed_has_what_an_atom_feed_must_have() -> None:
    """RFC 4287, 4.1.1: exactly one id, title and updated, and an author with a name."""
    feed = parsed(atom_feed(morning()))
    assert feed.tag == f"{ATOM}feed"
    for name in ("id", "title", "updated"):
        assert len(texts(feed, name)) == 1
    assert texts(feed, "updated") == ["2031-03-31T22:45:00Z"]
    assert feed.find(f"{ATOM}author/{ATOM}name") is not None


def test_each_entry_has_what_an_entry_must_have() -> None:
    """RFC 4287, 4.1.2: exactly one id, title and updated; without a link, content; 4.2.6: ids of
    a feed differ."""
    feed = parsed(atom_feed(morning()))
    entries = feed.findall(f"{ATOM}entry")
    assert len(entries) == 5
    ids = []
    for entry in entries:
        (own_id,), (updated,) = texts(entry, "id"), texts(entry, "updated")
        assert len(texts(entry, "title")) == 1
        assert DATE_TIME.fullmatch(updated)
        content = entry.find(f"{ATOM}content")
        assert content is not None
        assert content.get("type") == "text"  # RFC 4287, 4.1.3.1
        assert "licensed people" in (content.text or "")
        ids.append(own_id)
    assert len(set(ids)) == len(ids)
    for own_id in (*ids, *texts(feed, "id")):
        assert own_id.startswith("urn:uuid:")
        # RFC 9562, 5.5: version 5 is made of a name, and 4.1 asks for this variant.
        assert UUID(own_id.removeprefix("urn:uuid:")).version == 5


def test_ids_stay_and_differ_between_districts() -> None:
    one, other = morning(), replace(morning(), name="Other")
    assert atom_feed(one) == atom_feed(morning())
    ids = [
        {texts(e, "id")[0] for e in parsed(atom_feed(m)).iter(f"{ATOM}entry")} for m in (one, other)
    ]
    assert not ids[0] & ids[1]


def test_any_text_is_valid_and_means_itself() -> None:
    """XML 1.0, 2.2: control characters and U+FFFE are no characters; markup is escaped."""
    text = atom_feed(morning())
    assert SCRIPT not in text
    assert "\x07" not in text
    assert "\ufffe" not in text
    titles = [texts(e, "title")[0] for e in parsed(text).iter(f"{ATOM}entry")]
    assert any(SCRIPT in title for title in titles)


def test_what_ended_stays_for_readers_that_look_seldom() -> None:
    told = morning().told
    over = told.assign(over=True, state="ended", act=False, first_told=pd.Timestamp("2031-03-01"))
    feed = parsed(atom_feed(replace(morning(), told=over)))
    titles = [texts(e, "title")[0] for e in feed.iter(f"{ATOM}entry")]
    assert titles
    assert all(t.startswith("Ended: ") for t in titles)
    newest = over["updated"].iloc[0] + pd.Timedelta(days=60)
    later = pd.concat([over, told.head(1).assign(updated=newest)], ignore_index=True)
    assert len(list(parsed(atom_feed(replace(morning(), told=later))).iter(f"{ATOM}entry"))) == 1


def test_the_newest_come_first_and_their_number_is_bounded() -> None:
    one = morning().told.head(1)
    many = pd.concat([one] * (ENTRIES + 5), ignore_index=True)
    many["alarm_id"] = [f"A{n:04d}" for n in range(len(many))]
    many["updated_utc"] = [pd.Timestamp(READ) + pd.Timedelta(minutes=n) for n in range(len(many))]
    feed = parsed(atom_feed(replace(morning(), told=many)))
    updated = [texts(e, "updated")[0] for e in feed.iter(f"{ATOM}entry")]
    assert len(updated) == ENTRIES
    assert updated == sorted(updated, reverse=True)


def test_a_quiet_morning_is_a_valid_feed() -> None:
    feed = parsed(atom_feed(no_morning()))
    assert feed.findall(f"{ATOM}entry") == []
    assert DATE_TIME.fullmatch(texts(feed, "updated")[0])
