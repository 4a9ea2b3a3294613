"""What to buy: coils, materials, prices."""
