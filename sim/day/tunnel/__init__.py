"""The day as a SimPy model; the only room that knows SimPy."""

from sim.day.tunnel.model import Tunnel, simulate_day

__all__ = ["Tunnel", "simulate_day"]
