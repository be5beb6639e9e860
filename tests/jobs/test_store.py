"""Cards are kept with their whole history, and nobody's change is lost."""

from __future__ import annotations

import threading
from datetime import UTC, datetime, timedelta

import pytest

from firingend.errors import CaseError, PhotoError
from firingend.jobs.card import Note, Work, new_key, to_json
from firingend.jobs.change import replay
from firingend.jobs.job import Query
from firingend.jobs.problems import ConflictError, StoreError
from firingend.jobs.rows import TIES, line_columns
from firingend.jobs.search import matching
from firingend.jobs.store import Store


def note(text):
    return {f"notes/{new_key()}": to_json("notes/a", Note(text))}


def test_a_card_comes_back_as_it_was_written(store, location, clock):
    job = store.new_job({"name": "Pump set", "customer": "yard 4", "complaint": "shakes"}, "ab")
    job = store.change(job, note("coil swapped"), "cd", "note added")
    with Store(location, clock=clock) as again:
        found = again.job(job.number)
    assert found == job
    assert found.card.complaint == "shakes"
    assert [each.text for each in found.card.notes.values()] == ["coil swapped"]


def test_every_change_says_who_when_and_what(store):
    job = store.new_job({"name": "Pump set"}, "ab")
    job = store.change(job, {"status": "waiting"}, "cd", "waits for a coil")
    first, second = store.history(job.number)
    assert (first.who, first.what, first.revision) == ("ab", "job opened", 1)
    assert (second.who, second.what, second.revision) == ("cd", "waits for a coil", 2)
    assert second.at > first.at
    assert store.history(job.number, after_revision=1) == (second,)


def test_any_earlier_state_can_be_had(store):
    job = store.new_job({"name": "Pump set", "status": "open"})
    states = [job.fields]
    for status in ("waiting", "fixed", "proved"):
        job = store.change(job, {"status": status})
        states.append(job.fields)
    assert [store.at_revision(job.number, i) for i in (1, 2, 3, 4)] == states
    assert replay(store.history(job.number)) == job.fields
    with pytest.raises(StoreError, match="no state 9"):
        store.at_revision(job.number, 9)


def test_undo_goes_on_after_a_restart(store, location, clock):
    job = store.new_job({"name": "Pump set", "status": "open"})
    job = store.change(job, {"status": "waiting"}, what="waits")
    job = store.change(job, {"status": "fixed", "fixed": "coil A renewed"}, what="fixed")
    with Store(location, clock=clock) as again:
        job = again.undo(job.number, "ef")
        assert (job.card.status, job.card.fixed) == ("waiting", "")
    with Store(location, clock=clock) as again:
        job = again.undo(job.number, "ef")
        assert job.card.status == "open"
        assert [change.what for change in again.history(job.number)][-2:] == ["took back: fixed", "took back: waits"]
        with pytest.raises(StoreError, match="no change to take back"):
            again.undo(job.number)


def test_a_second_viewer_sees_the_firsts_change(store, location, clock):
    with Store(location, clock=clock) as other:
        job = store.new_job({"name": "Pump set"})
        assert other.job(job.number) == job
        changed = store.change(job, {"status": "waiting"})
        assert other.job(job.number) == changed


def test_changes_of_different_fields_are_both_kept(store, location, clock):
    with Store(location, clock=clock) as other:
        seen = store.new_job({"name": "Pump set"})
        store.change(seen, {"status": "waiting"}, "ab")
        merged = other.change(seen, {"complaint": "shakes"}, "cd")
    assert (merged.card.status, merged.card.complaint) == ("waiting", "shakes")


def test_a_conflict_is_shown_and_neither_side_is_lost(store):
    seen = store.new_job({"name": "Pump set", "complaint": "shakes"})
    store.change(seen, {"complaint": "shakes when cold"}, "ab", "complaint asked again")
    with pytest.raises(ConflictError, match=r"changed by ab .*complaint asked again") as raised:
        store.change(seen, {"complaint": "shakes when hot"}, "cd")
    assert raised.value.paths == ("complaint",)
    assert store.job(seen.number).card.complaint == "shakes when cold"


def test_the_same_change_twice_is_no_conflict(store):
    seen = store.new_job({"name": "Pump set"})
    first = store.change(seen, {"status": "fixed"})
    assert store.change(seen, {"status": "fixed"}) == first


def test_undo_takes_back_only_the_latest_change(store):
    job = store.new_job({"name": "Pump set", "complaint": "shakes"})
    job = store.change(job, {"complaint": "stalls"})
    stalls = store.history(job.number)[-1]
    job = store.change(job, {"complaint": "smokes"})
    store.undo(job.number)
    assert store.job(job.number).card.complaint == "stalls"
    assert stalls.edits[0].before == "shakes"


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"colour": "red"}, "no field"),
        ({"notes": {"text": "x"}}, "no field"),
        ({"status": "lost"}, "status"),
        ({"notes/../x": {"text": "x"}}, "no field"),
        ({"notes/a": {"text": "x", "more": 1}}, "more"),
        ({"complaint": "a\x00b"}, "control characters"),
        ({"complaint": "\ud800"}, "control characters"),
        ({"work/a": {"what": "x", "minutes": float("nan")}}, "work/a"),
        ({"complaint": "x" * 20_001}, "longer"),
        ({"typed/a": {"cylinder": 1, "label": "green"}}, "green"),
    ],
)
def test_what_does_not_belong_on_a_card_is_refused(sqlite_store, fields, message):
    with pytest.raises(CaseError, match=message):
        sqlite_store.new_job({"name": "Pump set", **fields})
    assert sqlite_store.list() == ()


def test_photographs_are_kept_byte_for_byte(store, make_photo):
    source = make_photo(7)
    job, key = store.add_photo(store.new_job({"name": "Pump set"}), source, cylinders=(3,), who="ab")
    kept = store.photos_of(job)[key]
    assert kept.file.read_bytes() == source.read_bytes()
    assert kept.state == "there"
    assert job.card.photos[key].cylinders == (3,)
    assert str(job.card.photos[key].taken) == "2026-03-04 05:07:00"


def test_a_photograph_on_two_cards_is_stored_once(store, make_photo):
    source = make_photo(7)
    store.add_photo(store.new_job({"name": "one"}), source)
    store.add_photo(store.new_job({"name": "two"}), source)
    assert len(list(store.photo_folder.files())) == 1


def test_a_file_that_is_no_photograph_leaves_nothing_behind(store, tmp_path):
    job = store.new_job({"name": "Pump set"})
    for name, content in (("a.jpg", b"hello"), ("b.jpg", b"\xff\xd8\xff" + bytes(50)), ("c.jpg", b"")):
        file = tmp_path / name
        file.write_bytes(content)
        with pytest.raises(PhotoError, match=name):
            store.add_photo(job, file)
    assert not [path for path in store.location.photos.rglob("*") if path.is_file()]
    assert store.job(job.number) == job


def test_a_missing_or_damaged_photograph_never_hides_the_job(store, make_photo):
    job, key = store.add_photo(store.new_job({"name": "Pump set"}), make_photo(7))
    kept = store.photos_of(job)[key]
    original = kept.file.read_bytes()
    assert store.photo_folder.thumbnail(kept.sha256, kept.suffix)
    kept.file.write_bytes(b"short")
    assert store.photos_of(store.job(job.number))[key].state == "damaged"
    kept.file.write_bytes(original[:-40] + bytes(40))
    assert store.photos_of(job)[key].state == "there"
    assert store.photos_looked_at(job)[key].state == "damaged"
    kept.file.write_bytes(original)
    assert store.photos_looked_at(job)[key].state == "there"
    kept.file.unlink()
    assert store.photos_looked_at(job)[key].state == "missing"
    found = store.job(job.number)
    assert store.photos_of(found)[key].state == "missing"
    assert found.card.photos[key].name == "plug-7.jpg"


def test_jobs_are_found_by_what_is_on_them(store):
    from firingend.engine.build import build_engine

    engine = to_json("engine", build_engine(4, name="Pump Engine"))
    first = store.new_job({"name": "First", "customer": "Yard 4", "engine": engine, "mark": "INV-12"})
    second = store.new_job({"name": "Second", "complaint": "Läuft unrund", "status": "waiting"})
    third = store.new_job({"name": "Third", "typed/a": {"cylinder": 1, "label": "wet"}})
    third = store.change(third, {"found/a": {"cause": "worn-rings", "where": "cylinder 1"}, "status": "fixed"})

    def numbers(**query):
        return [line.number for line in store.list(Query(**query))]

    assert numbers() == [third.number, second.number, first.number]
    assert numbers(words="pump yard") == [first.number]
    assert numbers(words="LÄUFT unr") == [second.number]
    assert numbers(words="pump läuft") == []
    assert numbers(engine="pump  engine") == [first.number]
    assert numbers(mark="inv-12") == [first.number]
    assert numbers(customer="yard 4") == [first.number]
    assert numbers(label="wet") == numbers(cause="worn-rings") == numbers(status="fixed") == [third.number]
    assert numbers(opened_from=second.opened_at) == [third.number, second.number]
    assert numbers(opened_before=second.opened_at) == [first.number]
    assert numbers(before_number=third.number, most=1) == [second.number]
    store.change(third, {"typed/a": None})
    assert numbers(label="wet") == []


def test_jobs_are_listed_by_the_time_they_were_opened(store, clock):
    """Whatever their numbers: a bundle brings an old job under a new number."""
    began = clock.now
    numbers = []
    for days in (0, 9, 3, 9, 9, 6):
        clock.now = began + timedelta(days=days)
        numbers.append(store.new_job({"name": "Pump set", "typed/a": {"cylinder": 1, "label": "wet"}}).number)
    first, late, third, late_too, latest, sixth = numbers
    in_order = [latest, late_too, late, sixth, third, first]
    for query in ({}, {"words": "pum se"}, {"label": "wet"}, {"status": "open"}, {"label": "wet", "status": "open"}):

        def listed(query=query, **more):
            return [line.number for line in store.list(Query(**query, **more))]

        pages, before = [], None
        while page := listed(most=2, before_number=before):
            pages += page
            before = page[-1]
        assert pages == in_order
        day = timedelta(days=1)
        assert listed(opened_from=began + day, opened_before=began + 7 * day) == [sixth, third]
        assert listed(opened_before=began + 10 * day, before_number=late) == [sixth, third, first]
        # The one bound is inside, the other is not.
        opened = store.job(third).opened_at
        assert listed(opened_from=opened)[-1] == third
        assert listed(opened_before=opened) == [first]
        assert listed(before_number=999) == in_order


def test_jobs_of_one_instant_are_listed_in_the_order_they_came(location):
    instant = datetime(2026, 5, 4, tzinfo=UTC)
    with Store(location, clock=lambda: instant) as store:
        numbers = [store.new_job({"name": "Pump set"}).number for _ in range(3)]
        assert [line.number for line in store.list(Query(opened_from=instant))] == numbers[::-1]
        assert [line.number for line in store.list(Query(before_number=numbers[1]))] == numbers[:1]
        assert store.list(Query(opened_before=instant)) == ()


def test_any_time_and_any_number_of_jobs_at_it_can_be_ordered(location):
    instants = (
        [datetime.max.replace(tzinfo=UTC)] * 3
        + [datetime(1, 1, 2, tzinfo=UTC)]
        + [datetime.max.replace(microsecond=0, tzinfo=UTC)] * (TIES + 3)
    )
    clock = iter(instants)
    with Store(location, clock=lambda: next(clock), backups=False) as store:
        numbers = [store.new_job({"name": "Pump set"}).number for _ in instants]
        listed = [line.number for line in store.list(Query(most=100))]
        assert listed == [3, 2, 1, *numbers[:3:-1], 4]
        assert [line.number for line in store.list(Query(opened_before=datetime(2000, 1, 1, tzinfo=UTC)))] == [4]


def test_dates_are_found_by_index_alone(sqlite_store):
    queries = (
        Query(),
        Query(opened_before=datetime(2020, 1, 1, tzinfo=UTC)),
        Query(opened_from=datetime(2020, 1, 1, tzinfo=UTC), opened_before=datetime(2020, 2, 1, tzinfo=UTC)),
        Query(opened_before=datetime(2020, 1, 1, tzinfo=UTC), status="open"),
        Query(opened_before=datetime(2020, 1, 1, tzinfo=UTC), status="open", label="wet"),
        Query(opened_before=datetime(2020, 1, 1, tzinfo=UTC), words="pump", before_number=7),
    )
    for query in queries:
        with sqlite_store.database.read() as connection:
            statement = str(
                matching(query, line_columns()).compile(connection.engine, compile_kwargs={"literal_binds": True})
            )
            plan = [row[3] for row in connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}")]
        assert not any("TEMP B-TREE" in step for step in plan), plan
        assert not any(step.startswith("SCAN") and "INDEX" not in step for step in plan), plan
        if query.opened_before and not query.words:
            assert any("sort_key<?" in step for step in plan), plan


def test_four_writers_at_once_lose_nothing(store, location):
    job = store.new_job({"name": "Pump set"})
    failures = []

    def write(who):
        with Store(location, backups=False) as own:
            for i in range(6):
                try:
                    key = new_key()
                    own.change(own.job(job.number), {f"work/{key}": to_json("work/a", Work(f"{who}{i}", 1.0))}, who)
                except Exception as error:
                    failures.append(error)

    writers = [threading.Thread(target=write, args=(who,)) for who in "abcd"]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    assert failures == []
    assert len(store.job(job.number).card.work) == 24
    assert [change.revision for change in store.history(job.number)] == list(range(1, 26))
    assert replay(store.history(job.number)) == store.job(job.number).fields
