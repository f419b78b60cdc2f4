"""Which parts of the devices' records are cleaned anew, and all of them put together."""

from district.cleaning.parts import CleanedParts, Raw, cleaned_parts

__all__ = ["CleanedParts", "Raw", "cleaned_parts"]
