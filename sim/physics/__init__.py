"""Physics of the wiping stage: belt, water on the car, moisture of the cloth, air, wear.

Pure functions of plain numbers in SI. Those that a day calls for every car use arithmetic and
`math` alone, raise nothing and warn nothing inside the ranges of the table of inputs.
"""
