"""Brake status: vehicle files, rules, findings, spans."""
