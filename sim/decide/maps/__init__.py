"""Maps of a day: speed by spacing, demand by temperature."""
