"""Tables of the items: bench readings and what else was measured; codes only, before a reveal."""

from __future__ import annotations

from posewatch.core.records import NS_PER_S
from posewatch.errors import BadInput
from posewatch.export.columns import Row, Table, count, number, text
from posewatch.export.recorded import Recorded, RecordedVisit
from posewatch.export.ride_tables import PLACE
from posewatch.export.visit_tables import WHEN, when_of
from posewatch.trials.acts import Gauged, ItemFact
from posewatch.trials.bench_readings import hardness, scale_type
from posewatch.trials.code_list import CodeList
from posewatch.trials.item_passport import UNITS, BenchRecord, Fact, Passport, passports

VISIT, CODE = PLACE[0], PLACE[2]

HARDNESS = (
    VISIT,
    CODE,
    text("scale", "of the durometer, as printed on it"),
    text("type", "a standard's name of that scale; empty = none. Types are never converted"),
    text("zone", "where on the item"),
    text("side", "which side"),
    number("dwell_s", "between contact and reading"),
    text("backing", "what lay under the item"),
    number("thickness_mm", "of the item there; empty = not known"),
    number("temperature_degC", "of the item; empty = not known"),
    text("readings", "all of them, parted by spaces, in points of the scale"),
    count("n", "how many readings"),
    number("median", "the result, in points of the scale (ASTM D2240-15: median of five)"),
    number("mean", "in points of the scale"),
    number("sd", "of a sample, in points of the scale; empty = one reading"),
    number("range", "largest less smallest, in points of the scale"),
    text("warnings", "what makes it doubtful"),
    *WHEN,
)
FACTS = (
    VISIT,
    CODE,
    text("fact", "what was measured"),
    number("value", "in unit; washes and hours ridden are totals"),
    text("unit", "1 = a number of times"),
    *WHEN,
)
_NEWEST = {
    Fact.THICKNESS: "thickness_mm",
    Fact.WEIGHT: "weight_g",
    Fact.DRYING_TIME: "drying_time_h",
    Fact.WASHES: "washes",
    Fact.HOURS_RIDDEN: "ridden_h",
}
PASSPORTS = (
    CODE,
    *(number(column, f"newest {fact}") for fact, column in _NEWEST.items()),
    number("ridden_in_trials_h", "time in the trials at hand"),
    text("warnings", "what does not fit"),
)
NAMES = (
    text("card", "letter on the rider's card"),
    text("name", "what it is; opened from the sealed code list, after the logged reveal"),
    text("description", "as it was sealed"),
)


def item_tables(recorded: Recorded, names: CodeList | None) -> tuple[Table, ...]:
    """Return the tables of the items. names: None = codes only."""
    hardnesses: list[Row] = []
    facts: list[Row] = []
    for visit in recorded.visits:
        for kept, _ in visit.acts:
            match kept.act:
                case Gauged() as act:
                    hardnesses.append((visit.state.visit, *_gauged(act), *when_of(kept)))
                case ItemFact() as act:
                    unit = UNITS[Fact(act.fact)] if act.fact in tuple(Fact) else ""
                    fact = (act.code, act.fact, act.value, unit)
                    facts.append((visit.state.visit, *fact, *when_of(kept)))
    items = passports([_bench_record(recorded, visit) for visit in recorded.visits])
    return (
        Table("hardness", "bench readings by durometer, one row a place", HARDNESS, hardnesses),
        Table("item_facts", "one row for each fact that was measured of an item", FACTS, facts),
        Table(
            "items",
            "one row for each item, over all visits at hand",
            PASSPORTS if names is None else (*PASSPORTS, *NAMES),
            [(*_passport(one), *_named(one.code, names)) for one in items],
        ),
    )


def _gauged(act: Gauged) -> Row:
    told = (
        act.code,
        act.scale,
        scale_type(act.scale) or "",
        act.zone,
        act.side,
        act.dwell_s,
        act.backing,
        act.thickness_mm,
        act.temperature_c,
        " ".join(f"{reading:g}" for reading in act.readings),
        len(act.readings),
    )
    try:
        one = hardness(act)
    except BadInput as problem:
        return *told, None, None, None, None, f"no readings of a gauge: {problem.what}"
    spread = one.high - one.low
    return *told, one.median, one.mean, one.sd, spread, "; ".join(one.warnings)


def _bench_record(recorded: Recorded, visit: RecordedVisit) -> BenchRecord:
    header = visit.header
    ridden_ns = dict.fromkeys(header.codes, 0)
    for trial in recorded.trials:
        if trial.visit == visit.state.visit and trial.watched is not None:
            ridden_ns[trial.code] += trial.watched.last_ns - trial.watched.first_ns
    return BenchRecord(
        header.sealed_sha256 or header.plan_sha256,
        header.codes,
        tuple((kept.wall_ns, kept.act) for kept, _ in visit.acts),
        ridden_ns,
    )


def _passport(one: Passport) -> Row:
    newest = (one.latest(fact) for fact in _NEWEST)
    return one.code, *newest, one.ridden_ns / (3600 * NS_PER_S), "; ".join(one.warnings)


def _named(code: str, names: CodeList | None) -> Row:
    if names is None:
        return ()
    found = names.behind(code)
    return found.card, found.item.name, found.item.description
