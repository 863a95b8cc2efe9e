SELECT name, setting FROM pg_settings
WHERE name IN ('fsync', 'full_page_writes', 'synchronous_commit') AND setting = 'off'
    AND coalesce(current_setting('evenfield.volatile', true), '') <> 'accepted'
