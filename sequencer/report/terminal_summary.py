"""The summary on the terminal: what the plan costs, what it saves, how far it is proven, and why."""

from __future__ import annotations

from rich.console import Console
from rich.text import Text

from sequencer.cards.overview import Overview, Unmet, overview
from sequencer.operations import as_words
from sequencer.planfile import Plan
from sequencer.quantity import MINUTE_PLACES, counted, format_minutes
from sequencer.report.terminal_page import CAREFUL, GOOD, HEADING, INDENT, MOVED, QUIET, Page


def print_summary(plan: Plan, console: Console) -> None:
    """Print cost, proof, savings, where the minutes go and why, choices, preferences, remarks."""
    page, view = Page(console), overview(plan)
    batch = f"batch of {view.batch}" if view.batch > 1 else ""
    page.bar(page.text((view.job, HEADING)), ", ".join(word for word in (batch, view.shop) if word))
    if view.goes_on:
        page.line((view.goes_on, CAREFUL))
    page.blank()
    _cost(page, view)
    _savings(page, view)
    _minutes(page, view)
    _least_costs(page, view)
    _choices(page, view)
    _preferences(page, view)
    _rules(page, view)
    if view.remarks:
        page.heading("Remarks")
        for remark in view.remarks:
            page.entry("·", remark, at=2)


def _cost(page: Page, view: Overview) -> None:
    page.entry("Takes", (format_minutes(view.cost_minutes), MOVED))
    page.entry(
        "",
        f"{format_minutes(view.reset_minutes)} for {counted(view.reset_count, 'reset')}, ",
        f"{format_minutes(view.walk_minutes)} for {counted(view.walk_count, 'walk')}, ",
        f"{format_minutes(view.work_minutes)} of work",
    )
    page.entry("", f"{counted(view.steps, 'step')} in {counted(view.setups, 'setup')}")
    weighed = ", preferences weighed in" if view.preferences else ""
    if view.proven:
        page.entry("Proof", ("proven", GOOD), f": no order of these operations costs less{weighed}")
    elif view.bound_minutes <= 0:
        page.entry("Proof", ("not proven", CAREFUL), ": how much another order could save is not known")
    else:
        share = 100 * view.gap_minutes / view.cost_minutes if view.cost_minutes else 0.0
        page.entry(
            "Proof",
            ("not proven", CAREFUL),
            f": no order takes less than {format_minutes(view.bound_minutes)}{weighed}, so at most ",
            f"{format_minutes(view.gap_minutes)} ({share:.1f} %) could still be saved",
        )
    if view.interrupted:
        page.entry("", "stopped by hand: this is the best order found until then")


def _savings(page: Page, view: Overview) -> None:
    if not view.habits:
        return
    page.heading("Against the usual habits")
    takes = _column([habit.cost_minutes for habit in view.habits])
    rows = [_row(page, "", "takes", "resets", "saved here", style=QUIET)]
    for habit in view.habits:
        saved = format_minutes(habit.saves_minutes) if habit.saves_minutes else "nothing"
        rows.append(_row(page, habit.name, f"{takes[habit.cost_minutes]} min", str(habit.resets), saved))
    page.columns(rows, gap=4)
    if any(habit.saves_minutes < 0 for habit in view.habits):
        page.line(
            ("A habit can come cheaper where it passes over mates and preferences.", QUIET), indent=INDENT
        )


def _minutes(page: Page, view: Overview) -> None:
    """One table: each station, under it the settings moved there, and the whole."""
    page.heading("Where the minutes go")
    settings = [setting for line in view.stations for setting in line.settings]
    resets = _column(
        [view.reset_minutes, *(s.minutes for s in settings), *(x.reset_minutes for x in view.stations)]
    )
    walks = _column([view.walk_minutes, *(line.walk_minutes for line in view.stations)])
    works = _column([view.work_minutes, *(line.work_minutes for line in view.stations)])
    rows = [_row(page, "", "visits", "setups", "resets", "min", "walking", "work", style=QUIET)]
    for line in view.stations:
        name = page.text((line.name, HEADING))
        counts = (str(line.visits), str(line.setups), str(line.resets), resets[line.reset_minutes])
        rows.append((name, *_row(page, *counts, walks[line.walk_minutes], works[line.work_minutes])))
        for setting in line.settings:
            cells = (f"  {setting.name}", "", "", str(setting.resets), resets[setting.minutes], "", "")
            rows.append(_row(page, *cells, style=QUIET))
    whole = (str(view.walk_count + 1), str(view.setups), str(view.reset_count), resets[view.reset_minutes])
    cells = ("all", *whole, walks[view.walk_minutes], works[view.work_minutes])
    rows.append(_row(page, *cells, style=HEADING))
    page.columns(rows, gap=3)


def _least_costs(page: Page, view: Overview) -> None:
    if not view.least_costs:
        return
    page.heading("Why the rest cannot be saved")
    for least in view.least_costs:
        names = (" + ".join(least.settings), HEADING)
        told = f": {least.why}" if least.settings else least.why
        page.entry(format_minutes(least.minutes), names, told, style="")


def _choices(page: Page, view: Overview) -> None:
    if not view.choices and not view.struck_out:
        return
    page.heading("Ways of making")
    for choice, way in view.choices:
        page.entry("taken", (choice, HEADING), f": {way}", style="")
    for out in view.struck_out:
        page.entry(
            "struck out",
            (as_words(out.joint), HEADING),
            f": {as_words(out.way)}, because {out.why}",
            style="",
        )


def _preferences(page: Page, view: Overview) -> None:
    """The preferences not met, those of one rule and one reason together."""
    if not view.unmet:
        return
    page.heading("Preferences not met", f"{format_minutes(view.preference_minutes)} weighed on top")
    alike: dict[tuple[str, str], list[Unmet]] = {}
    for wish in view.unmet:
        alike.setdefault((wish.rule, wish.why), []).append(wish)
    for (rule, why), wishes in alike.items():
        price = sum(wish.price_minutes for wish in wishes)
        page.entry(format_minutes(price), f"{why} ", (f"[{rule}]", QUIET), style="")
        if len(wishes) == 1:
            wish = wishes[0]
            told = f"step {wish.before_step}, {wish.before}, comes after step {wish.after_step}, {wish.after}"
            page.entry("", told)
        else:
            pairs = [page.text(f"step {wish.before_step} after {wish.after_step}") for wish in wishes]
            page.items("", pairs)


def _rules(page: Page, view: Overview) -> None:
    if not (view.rule_savings or view.rules_free or view.rules_unknown or view.rules_not_tried):
        return
    page.heading("What the rules cost")
    for saving in view.rule_savings:
        about = "" if saving.proven else ", or more (not proven)"
        wishes = saving.preference_minutes
        if wishes is None:
            about += ", prices of other preferences weighed in"
        elif wishes:
            about += f": {_saved(saving.saves_minutes - wishes, wishes)}"
        page.entry(
            format_minutes(saving.saves_minutes), f"would be saved without {saving.rule}{about}", style=""
        )
    if view.rules_free:
        others = "any other" if view.rule_savings else "any"
        page.entry("nothing", f"would be saved without {others} ({view.rules_free} tried)", style="")
    if view.rules_unknown:
        page.entry("not known", f"in the time given, without {', '.join(view.rules_unknown)}", style="")
    if view.rules_not_tried:
        page.entry("not tried", f"{', '.join(view.rules_not_tried)}: stopped by hand before", style="")


def _saved(time: float, wishes: float) -> str:
    """What is saved, in minutes of time and of preferences' prices; what is paid for it as such."""
    parts = [
        (round(time, MINUTE_PLACES), "of time"),
        (round(wishes, MINUTE_PLACES), "of the prices of other preferences"),
    ]
    saved = ", ".join(f"{format_minutes(abs(minutes))} {what}" for minutes, what in parts if minutes >= 0)
    paid = [f", for {format_minutes(-minutes)} more {what}" for minutes, what in parts if minutes < 0]
    return saved + "".join(paid)


def _row(page: Page, *cells: str, style: str = "") -> tuple[Text, ...]:
    return tuple(page.text((cell, style)) for cell in cells)


def _column(minutes: list[float]) -> dict[float, str]:
    """Minutes as texts with as many decimals each as the longest needs, so that a column lines up."""
    texts = [format_minutes(value, with_unit=False) for value in minutes]
    places = max((len(text.partition(".")[2]) for text in texts), default=0)
    return {value: f"{value:.{places}f}" for value in minutes}
