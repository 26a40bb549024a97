"""From what a person sees at a display to the likely causes, in order, and what to do about each.

It must not look at a card: what a check of the card found comes in a report.
"""
