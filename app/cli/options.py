"""Options of the command line that its answers name as well."""

OPTIONS = {
    "order": ("--order", "month or day first in its dates: mdy or dmy"),
    "date": ("--date-column", "its column of dates"),
    "hour": ("--hour-column", "its column of hours"),
    "count": (
        "--column",
        "its column of cars; =lines where each line is a car, =together for all of several",
    ),
    "part": ("--part", "which till or site of several; =together for all of them"),
    "counted": ("--counted", "what was counted: arrived or washed"),
}
"""Of what is said of a file of counts, the option and its help."""
