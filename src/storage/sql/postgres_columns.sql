SELECT table_name::text AS tab, column_name::text AS col, data_type::text AS kind
FROM information_schema.columns
WHERE table_schema = current_schema()
ORDER BY table_name, ordinal_position
