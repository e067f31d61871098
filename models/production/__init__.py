"""What the digester makes: learnt from the gauge by a state-space model, told as sample paths.

Only this folder imports statsmodels, and `forecast` works without it.
"""
