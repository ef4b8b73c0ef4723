"""Cloth: when a set is changed, and what waiting or changing earlier costs."""
