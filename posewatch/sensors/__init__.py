"""Bluetooth sensors: packets, what they say, and the client that fetches them."""
