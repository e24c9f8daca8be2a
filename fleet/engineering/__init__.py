"""Pure functions of the trade: no Django, no clock, no database."""
