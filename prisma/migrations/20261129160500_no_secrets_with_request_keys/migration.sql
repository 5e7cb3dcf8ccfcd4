-- What was answered to the form that made an access key or enrolled a tablet held the secret; a repeat needs the id alone.
UPDATE request_key SET result = result - 'secret' - 'key'
 WHERE jsonb_typeof(result) = 'object' AND (result -> 'secret' IS NOT NULL OR result ->> 'key' LIKE 'ew\_%');
UPDATE request_key SET answer = NULL WHERE answer::text LIKE '%ew\_%';
