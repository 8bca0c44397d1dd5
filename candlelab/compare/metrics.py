"""What can be compared, and by what."""

WAYS = ("wick", "wick_series", "wax", "fragrance_load_pct")
BURN_METRICS = (
    "burn_rate_g_per_h", "wall_max_c", "wall_max_warm_room_c", "flame_max_mm", "pool_depth_max_mm",
    "pool_share_max_pct", "mushroom_max_mm", "heat_release_w", "fragrance_release_g_per_h",
)  # fmt: skip
CANDLE_METRICS = ("life_h", "wax_left_pct", "rate_drift_g_per_h", "aftersmoke_s")
METRICS = BURN_METRICS + CANDLE_METRICS
# what batches may share, and what makes them differ
SHARED = ("batch", "wax_lot", "poured_on", "season", "room")
