"""The pack to buy: need, margin, sizes."""
