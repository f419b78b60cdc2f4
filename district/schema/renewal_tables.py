"""Tables of the plan of renewal: what breaks, what a break costs, what to renew, what it saves.

Estimates are x, x_low, x_high (95 %). A pipe here is a pipe of the layer, as an asset register
knows it, not a part between devices.
"""

from __future__ import annotations

from district.schema.columns import Column, Table, estimated

RENEWAL_CAUTION = (
    "The list says where breaks are likely and dear, not that a pipe is unsafe or sound: look at "
    "the pipe, its joints and its bedding before money is bound. Work in streets, in trenches and "
    "near other services, and taking water and fire supply from people meanwhile, is for licensed "
    "people under the local rules. Asbestos cement is cut and carried away only under the rules "
    "for asbestos; lead pipes are a matter of health before they are one of breaks."
)
"""Shown with every list."""
RANKING_WORDS = {
    "rates": "rates of this plan",
    "breaks": "earlier breaks for each metre",
    "age": "age alone",
    "random": "at random",
}
"""How pipes may be ranked, as people call it."""
RANKINGS = tuple(RANKING_WORDS)
SCENARIO_WORDS = {
    "none": "no renewal",
    "list": "this list, every year",
    "twice": "twice the budget",
}
SCENARIOS = tuple(SCENARIO_WORDS)

PIPE_HISTORY = Table(
    "pipe_history",
    "how long each pipe was watched for breaks, and what it showed: one row a pipe of the layer",
    (
        Column("pipe_id", "text", "pipe of the layer", required=True),
        Column("in_use", "flag", "whether it is in use; others only tell how such pipes break"),
        Column("material", "text", "pipe material"),
        Column("diameter_mm", "real", "inside diameter"),
        Column("bore_class", "text", "class of diameter"),
        Column("installed_year", "real", "year it was laid; empty if not known"),
        Column("length_m", "real", "length", low=0),
        Column("ground", "text", "ground it lies in, if told"),
        Column("cell_id", "text", "zone most of it lies in"),
        Column("street", "text", "street it lies in, if known"),
        Column("from_year", "real", "from when it was watched, as a decimal year"),
        Column("to_year", "real", "until when"),
        Column("exposure_km_year", "real", "length by years watched", low=0),
        Column("breaks_count", "whole", "breaks of the main in that time", low=0),
        Column("service_breaks_count", "whole", "breaks of its connections", low=0),
    ),
    key=("pipe_id",),
)
PIPE_RATES = Table(
    "pipe_rates",
    "expected breaks of every main in use in the year of the plan, the highest by length first",
    (
        Column("pipe_id", "text", "pipe of the layer", required=True),
        Column("rank", "whole", "order by breaks for each metre", low=1),
        Column("material", "text", "pipe material"),
        Column("diameter_mm", "real", "inside diameter"),
        Column("bore_class", "text", "class of diameter"),
        Column("installed_year", "real", "year it was laid; empty if not known"),
        Column("age_year", "real", "age in the year of the plan, years; assumed if not known"),
        Column("length_m", "real", "length", low=0),
        Column("ground", "text", "ground it lies in, if told"),
        Column("cell_id", "text", "zone most of it lies in"),
        Column("street", "text", "street it lies in, if known"),
        Column("exposure_km_year", "real", "length by years watched", low=0),
        Column("breaks_count", "whole", "breaks of the main in that time", low=0),
        *estimated("breaks_per_year", "breaks of this main expected in the year"),
        *estimated("breaks_per_100_km_year", "the same for each 100 km"),
        Column(
            "published_per_100_km_year", "real", "what published rates alone would expect", low=0
        ),
        Column(
            "own_index", "real", "its own breaks against those of its like: above 1 more", low=0
        ),
        *estimated("growth_per_year", "share by which its breaks grow a year at this age"),
        Column("rests_on", "text", "what told the rate", choices=("breaks", "published")),
    ),
    key=("pipe_id",),
)
FIT_TERMS = Table(
    "fit_terms",
    "what makes pipes break more or less, by how much, and what that rests on",
    (
        Column("term", "text", "kind of term", required=True),
        Column("level", "text", "material, class, ground or zone; empty where there is one"),
        *estimated("factor_index", "by how much breaks are multiplied, or the figure itself"),
        Column("published_index", "real", "the same before the district's own breaks"),
        Column("pipes_count", "whole", "pipes", low=0),
        Column("exposure_km_year", "real", "length by years watched", low=0),
        Column("breaks_count", "whole", "breaks", low=0),
        Column("said", "text", "the same in a sentence"),
    ),
    key=("term", "level"),
)
BACKTEST = Table(
    "backtest",
    "how many later breaks each ranking would have captured, had it been made then",
    (
        Column("ranking", "text", "how pipes are ranked", required=True, choices=RANKINGS),
        *estimated("captured_5_share", "later breaks on the first 5 % of length"),
        *estimated("captured_10_share", "on the first 10 %"),
        *estimated("captured_20_share", "on the first 20 %"),
        *estimated("area_share", "area under the curve: 0.5 at random"),
        *estimated("more_10_share", "by how much the rates capture more on the first 10 %"),
    ),
    key=("ranking",),
)
BACKTEST_CURVE = Table(
    "backtest_curve",
    "the curve of captured breaks",
    (
        Column("ranking", "text", "how pipes are ranked", required=True, choices=RANKINGS),
        Column("length_share", "real", "first share of the length", required=True, low=0, high=1),
        *estimated("captured_share", "later breaks on it"),
    ),
    key=("ranking", "length_share"),
)
DECILES = Table(
    "deciles",
    "breaks expected and seen by tenth of the pipes in order of rate",
    (
        Column("decile", "whole", "tenth of the expected breaks, the highest rates first", True, 1),
        Column("pipes_count", "whole", "pipes", low=0),
        Column("length_km", "real", "length", low=0),
        *estimated("expected_count", "breaks expected; the limits hold chance as well"),
        Column("seen_count", "whole", "breaks seen", low=0),
    ),
    key=("decile",),
)
PIPE_COSTS = Table(
    "pipe_costs",
    "what a break of each main costs, and what renewing it costs: one row a main in use",
    (
        Column("pipe_id", "text", "pipe of the layer", required=True),
        Column("segments", "text", "segments of the network it is shut off with"),
        Column("dry_properties_count", "real", "properties without water, mean by length", low=0),
        *estimated("dry_people_count", "people without water, mean by length"),
        Column("dry_critical_count", "real", "critical users without water", low=0),
        Column("above", "text", "what lies above, as told by a layer; empty if nothing does"),
        Column("above_share", "real", "share of its length under that", low=0, high=1),
        *estimated("break_water_m3", "water lost by a break until it is shut"),
        *estimated("water_currency", "its value"),
        *estimated("repair_currency", "the repair, and what is above"),
        *estimated("outage_currency", "people and critical users without water, as valued"),
        *estimated("break_currency", "all of these: what a break costs"),
        *estimated("hidden_leak_m3_d", "leakage looked for that is likely on it now"),
        *estimated("hidden_currency", "value of that until it would be found"),
        *estimated("renewal_currency", "what renewing it costs, the site itself left out"),
    ),
    key=("pipe_id",),
)
RENEWAL_PIPES = Table(
    "renewal_pipes",
    "every main in use with every input of its score: what breaks, what that costs, what renewal "
    "saves",
    (
        *PIPE_RATES.columns,
        *(c for c in PIPE_COSTS.columns if c.name != "pipe_id"),
        *estimated("risk_currency_year", "breaks a year by what each costs"),
        *estimated("benefit_currency", "what renewal saves over the horizon, discounted"),
        *estimated("benefit_cost_index", "that over the cost of renewal"),
        *estimated("best_year", "year in which renewal costs least; empty where none is told"),
        Column("best_note", "text", "why no such year is told, or that it is now"),
        Column("project_id", "text", "works on the list that renew it; empty if not listed"),
        Column("kept_share", "real", "share of the variants in which it is listed", low=0, high=1),
    ),
    key=("pipe_id",),
)
RENEWAL_PROJECTS = Table(
    "renewal_projects",
    "the list: neighbouring pipes of one street renewed at once, the best return first",
    (
        Column("project_id", "text", "works", required=True),
        Column("rank", "whole", "order by benefit for each unit of cost", low=1),
        Column("street", "text", "street, or the pipe it is named by"),
        Column("cell_ids", "text", "zones"),
        Column("pipe_ids", "text", "pipes renewed"),
        Column("pipes_count", "whole", "pipes", low=1),
        Column("length_m", "real", "length", low=0),
        Column("materials", "text", "materials taken out"),
        Column("breaks_count", "whole", "breaks on record on them", low=0),
        *estimated("breaks_per_year", "breaks expected there in the year"),
        *estimated("risk_currency_year", "what these cost a year"),
        *estimated("cost_currency", "cost of the works, the site included"),
        *estimated("benefit_currency", "what it saves over the horizon, discounted"),
        *estimated("benefit_cost_index", "that over its cost"),
        Column("kept_share", "real", "share of the variants that list most of it", low=0, high=1),
        Column("said", "text", "why it is on the list, in a sentence"),
    ),
    key=("project_id",),
)
RENEWAL_VARIANTS = Table(
    "renewal_variants",
    "how the list changes with the discount rate, the costs and the budget",
    (
        Column("variant", "text", "what differs", required=True),
        Column("discount_share", "real", "discount rate a year"),
        Column("budget_currency", "real", "budget", low=0),
        Column("spent_currency", "real", "spent of it", low=0),
        Column("projects_count", "whole", "works", low=0),
        Column("length_m", "real", "renewed", low=0),
        Column("benefit_currency", "real", "what that saves over the horizon, discounted"),
        Column("same_length_share", "real", "share of the list's length that is on this one too"),
        Column("gap_share", "real", "how far above this benefit the best may still lie", low=0),
    ),
    key=("variant",),
)
RENEWAL_YEARS = Table(
    "renewal_years",
    "breaks and leakage of the next ten years: without renewal, by the list, with twice the budget",
    (
        Column("scenario", "text", "what is done", required=True, choices=SCENARIOS),
        Column("year", "whole", "calendar year", required=True),
        Column("renewed_m", "real", "renewed in the year", low=0),
        Column("spent_currency", "real", "spent in the year", low=0),
        *estimated("breaks_count", "breaks of mains expected in the year"),
        *estimated("leakage_m3", "water lost by these and by hidden leaks of mains"),
        *estimated("breaks_currency", "what the breaks cost"),
    ),
    key=("scenario", "year"),
)
RENEWAL_GROUPS = Table(
    "renewal_groups",
    "the mains by street and by material",
    (
        Column("group", "text", "what they are grouped by", required=True),
        Column("name", "text", "street or material", required=True),
        Column("pipes_count", "whole", "pipes", low=0),
        Column("length_km", "real", "length", low=0),
        Column("mean_age_year", "real", "mean age by length, years", low=0),
        Column("exposure_km_year", "real", "length by years watched", low=0),
        Column("breaks_count", "whole", "breaks on record", low=0),
        *estimated("breaks_per_year", "breaks expected in the year"),
        *estimated("breaks_per_100_km_year", "the same for each 100 km"),
        Column("listed_km", "real", "of these on the list", low=0),
        Column("cost_currency", "real", "cost of these, sites left out", low=0),
    ),
    key=("group", "name"),
)
SURVEY_YEAR = Table(
    "survey_year",
    "which zones to survey in the coming year, and when: the soonest due first",
    (
        Column("cell_id", "text", "zone", required=True),
        Column("rank", "whole", "order", required=True, low=1),
        Column("last_surveyed", "date", "when most of it was last surveyed; empty if never told"),
        Column("surveyed_share", "real", "share of its mains surveyed within the interval", low=0),
        *estimated("survey_interval_months", "interval of surveys that costs least"),
        Column("due", "date", "when it is due"),
        Column("surveys_count", "whole", "surveys due within the year", low=0),
        Column("mains_km", "real", "length of mains", low=0),
        Column("work_h", "real", "hours on foot of one survey", low=0),
        Column("survey_currency", "real", "cost of one survey", low=0),
        Column("said", "text", "why, in a sentence"),
    ),
    key=("cell_id",),
)
RENEWAL: tuple[Table, ...] = (
    RENEWAL_PROJECTS,
    RENEWAL_PIPES,
    RENEWAL_GROUPS,
    RENEWAL_VARIANTS,
    RENEWAL_YEARS,
    FIT_TERMS,
    PIPE_HISTORY,
    BACKTEST,
    BACKTEST_CURVE,
    DECILES,
    SURVEY_YEAR,
)
"""The tables written for people, each as CSV and as a sheet of the workbook."""
