"""The table of inputs, the site that holds them, and what a plan is made for."""

from sim.inputs.entry import Entry, Prior, Steps, Times, Value, value_at
from sim.inputs.history import COUNTED, DayNote, History, HourCount, HourWeather, SiteData
from sim.inputs.scenario import Conditions, Scenario
from sim.inputs.site import GROUP_INPUTS, GROUPS, INPUTS, Group, Site, unknown_input
from sim.inputs.vehicles import (
    CLASS_INPUTS,
    DEFAULT_CLASSES,
    ZONES,
    ClassNumbers,
    VehicleClass,
)
from sim.inputs.weighing import AFTERNOON, DAMP, SOAKED, WEIGHINGS, Weighing

__all__ = [
    "AFTERNOON",
    "COUNTED",
    "DAMP",
    "DayNote",
    "History",
    "HourCount",
    "HourWeather",
    "SOAKED",
    "SiteData",
    "WEIGHINGS",
    "Weighing",
    "CLASS_INPUTS",
    "DEFAULT_CLASSES",
    "GROUPS",
    "GROUP_INPUTS",
    "INPUTS",
    "ZONES",
    "ClassNumbers",
    "Conditions",
    "Entry",
    "Group",
    "Prior",
    "Scenario",
    "Site",
    "Steps",
    "Times",
    "Value",
    "VehicleClass",
    "unknown_input",
    "value_at",
]
