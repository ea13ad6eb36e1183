//! Parcels, fields, waterways and roads as geometry: boundaries, overlap, frontage.
