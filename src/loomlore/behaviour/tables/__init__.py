"""Function tables: what you do, what you see, for each service, in the fewest rows.

``reaching`` and ``supplying`` find what can matter, ``gathering`` settles every setting, ``ranging`` and
``reducing`` bring the settings down to few rows, ``drafting`` and ``telling`` put them into the crew's words,
``tabulating`` does it all for a service.
"""
