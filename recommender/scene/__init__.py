"""Boxes, places and seats as arrays; how a box stands, how loud it plays, what a seat hears of it."""
