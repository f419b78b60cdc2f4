"""What became of the leaks: repairs verified, breaks added to history, the ledger and its years."""

from district.ledger.breaks import breaks_with_repairs
from district.ledger.leaks import ledger_of
from district.ledger.on_record import repairs_on_record, where_of
from district.ledger.verify import verifications, with_walks
from district.ledger.years import ledger_years

__all__ = [
    "breaks_with_repairs",
    "ledger_of",
    "ledger_years",
    "repairs_on_record",
    "verifications",
    "where_of",
    "with_walks",
]
