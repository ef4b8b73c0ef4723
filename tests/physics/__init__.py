"""Tests of `sim.physics`: what must hold whatever the numbers are."""
