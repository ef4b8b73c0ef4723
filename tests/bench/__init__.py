"""Figures that Clothcast has to reach, measured side by side in one run."""
