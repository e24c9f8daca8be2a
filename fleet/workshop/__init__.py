"""Forecast, capacity and the programme of shop visits."""
