"""Invented households living through real weather: for `kettlecast demo` and for tests, never to back a claim.

The digester here is mechanistic (heat balance, hydrolysis, growth of methanogens) and shares no formula
with `models`, so that what the product learns from these logs it has to learn the way it would from a real one.
"""
