"""Checks that read a whole set-up: job, shop and guide together."""
