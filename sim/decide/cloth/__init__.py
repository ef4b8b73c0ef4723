"""The cloth over months: when it is changed, how many sets to own, what to order, the season."""
