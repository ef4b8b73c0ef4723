"""How much is simulated unless told otherwise, and from which seed."""

FIRST_REPLICATIONS = 256
"""Simulated days of a plan's first answer, and of the command line."""
REPLICATIONS = 1_024
"""Simulated days to which a plan is refined, unless fewer make it sure enough."""
SEED = 20260701
"""Root seed of plans."""
SEASON_REPLICATIONS = 50
"""Simulated days of each day and rule of a season."""
