"""The list of what belongs on a card, with the SHA-256 of each file: written, read, and held against a card.

It must not open a card or any file but the list itself.
"""
