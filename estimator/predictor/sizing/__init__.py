"""The pack to buy: need, margin and sizes."""
