"""What each figure means, in plain words."""

MEANINGS: tuple[tuple[str, str], ...] = (
    (
        "95 % limits",
        "The two numbers after a figure. If all the meters, allowances and assumptions are as "
        "stated, the true value lies between them 19 times in 20. Wide limits mean: measure "
        "better before digging.",
    ),
    (
        "Net inflow",
        "Water that enters a zone through its meters, less what leaves it to other zones.",
    ),
    (
        "Minimum night flow",
        "The lowest hour of net inflow of the night, when people use least and leaks show most.",
    ),
    (
        "Legitimate night use",
        "Water people rightly use at night: measured where meters report often enough, else an "
        "allowance for each property.",
    ),
    ("Night leakage", "Net inflow of the night window less legitimate night use."),
    (
        "Background",
        "Leakage from many weeps too small to find, expected from length of mains, number of "
        "connections and pressure.",
    ),
    (
        "Excess",
        "Night leakage above the background: what a search can find and a repair can save.",
    ),
    (
        "Leakage by day",
        "Night leakage turned into a day's volume with the night-to-day factor, since pressure, "
        "and so leakage, is lower by day.",
    ),
    (
        "Leakage index",
        "Infrastructure leakage index: real losses of the year over the losses that a system "
        "of this size and pressure cannot avoid. 1 is as good as it gets. It is not meant for "
        "small systems or very low pressure; where that applies it is not given.",
    ),
    (
        "Band",
        "Published target band, A (best) to D, read from litres per connection and day at the "
        "zone's pressure, for the country's group; two bands where the limits lie in both.",
    ),
    (
        "Probability of a stretch",
        "How likely it is that the flow looked for escapes there: from material, age, bore, "
        "connections and past breaks, and from all that loggers and crews told since. The "
        "stretches of a zone sum to 100 %.",
    ),
    (
        "To walk first",
        "The shortest list of stretches that together hold 90 % of the probability of the zone, or "
        "the share that the settings ask for.",
    ),
    (
        "Evidence",
        "All that speaks for or against a stretch. It moved the answer by the share of the "
        "probability that would lie on other pipes without it; what moved it by 1 % might as well "
        "not have been read.",
    ),
    (
        "Likeliest place",
        "How far along a stretch the leak is, if it is on it, from the end that is named. Where "
        "nothing tells it, the leak may be anywhere along the stretch.",
    ),
    (
        "Missed by the model",
        "Measured less modelled pressure, root mean square over the hours compared. A logger that "
        "the model does not explain says nothing of where a leak is.",
    ),
    (
        "Smallest leak shown",
        "The smallest new leak on a pipe that the meters and loggers there are now would show "
        "within the stated nights, at the stated rate of false alarms.",
    ),
    (
        "Walk to the next leak",
        "The length a crew is expected to walk before it passes the leak, should one of the stated "
        "size begin on that pipe.",
    ),
    (
        "What an event likely is",
        "The likeliest of leak, growing leak, use, meter at fault and moved boundary, with its "
        "probability; those of an event sum to 100 %, and what speaks for and against each stands "
        "beneath.",
    ),
    (
        "False trip",
        "A valve that shuts by itself shuts though nothing leaks.",
    ),
    (
        "Apparent losses",
        "Water that is used but not billed rightly: meters that read low, theft.",
    ),
    ("Real losses", "Water that escapes from pipes, tanks and connections before the meter."),
    (
        "Rise",
        "How much leakage grows in a year if nobody looks for leaks, read from the rise of night "
        "flow between repairs. Leaks break out by chance: the limits are wide.",
    ),
    (
        "Survey every",
        "The interval at which searching all mains costs least: less often and leaks run longer, "
        "more often and the search costs more than the water it saves.",
    ),
    (
        "Burst service pipes",
        "How many burst service pipes would leak as much as the excess; one burst main may too.",
    ),
    (
        "Seven-night figure",
        "Of the lowest hours of the last seven nights the one that a fifth of them lie below "
        "(20th percentile). One odd night moves it little.",
    ),
    (
        "Meter that disagrees",
        "Where zones are fed through each other, each meter is checked by those beside it. A meter "
        "that reads wrongly takes from one zone what it gives another; a leak does not.",
    ),
    (
        "Two ways to real losses",
        "Top-down: what enters, less all use and apparent losses. Bottom-up: night leakage, turned "
        "into days and summed. They use other data, so that agreement is a check of both.",
    ),
    (
        "Share of the uncertainty",
        "How much of a figure's variance an input makes. Measure the largest better first: the "
        "others hardly count until then.",
    ),
    ("Non-revenue water", "System input that brings no bill: a volume, or a share of the input."),
)
"""Term and what it means, in the order a reader meets them."""
TANK = (
    "Tank",
    "A tank inside a zone whose level is read. Water that rises in it is taken off the zone's "
    "inflow, water it gives back is added, so that filling is not taken for a leak nor emptying "
    "for less of one.",
)
"""What a tank is, said where a district has one."""

EVENT_WORDS: dict[str, str] = {
    "leak": "new leak",
    "growing_leak": "growing leak",
    "building_flow": "flow in a building that never stops",
    "meter_fault": "meter at fault, no leak",
    "boundary": "boundary valve or zone border, no leak",
    "use": "use, no leak",
    "unknown": "cause not clear",
    "wet_floor": "wet floor",
    "leak_cable": "wet leak cable",
    "chamber_float": "water in a chamber",
}
"""Kind of an event -> words for people."""
SUPPORT_WORDS: dict[str, str] = {
    "flow": "flow alone",
    "alarm": "alarm alone",
    "both": "flow and alarm",
}
"""What tells of an event -> words."""
SENSED_WORDS: dict[str, str] = {
    "wet_floor": "wet-floor sensor",
    "leak_cable": "leak cable",
    "chamber_float": "chamber float",
}
"""Kind of a sensor that gives alarms -> what it is; of its alarm `EVENT_WORDS` tells."""
REPAIR_WORDS: dict[str, str] = {
    "another_leak": "worked; another leak remains",
    "partly": "worked in part",
    "not_seen": "not seen in the night flow",
    "too_early": "too early to tell",
    "verified": "worked",
}
"""Verdict on a repair -> words, those that ask for a visit first."""
SENSOR_WORDS: dict[str, str] = {
    "silent": "silent",
    "always_on": "always in alarm",
    "flapping": "goes on and off",
    "sound": "sound",
}
"""Verdict on an alarm sensor -> words, the worst first."""
STILL_WORDS: dict[str, str] = {
    "constant_flow": "never stops",
    "empty_flow": "flows while nobody is there",
    "stuck": "shows the same flow all the time",
    "dead": "shows nothing",
    "below_resolution": "too coarse to tell",
    "too_few": "read too seldom to tell",
    "still": "stands still",
}
"""Verdict on a building's meter -> words."""


def meanings(*, tanks: bool) -> tuple[tuple[str, str], ...]:
    """Every term and what it means; that of a tank only where the district has one."""
    return (*MEANINGS, *((TANK,) if tanks else ()))
