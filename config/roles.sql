-- The two database roles of the board, and what they may do. Run by a superuser in the board's own database with psql,
-- as often as you like; the passwords come from the environment (BOARD_OWNER_PASSWORD, BOARD_APP_PASSWORD).
--
-- board_owner owns the tables and runs the migrations.
-- board_app is what the web server and the worker are: it reads and writes rows, but owns nothing, so that it can
-- neither drop a safety constraint nor switch a trigger off, nor empty a table (TRUNCATE passes row triggers by).

\set ON_ERROR_STOP on
\getenv owner_password BOARD_OWNER_PASSWORD
\getenv app_password BOARD_APP_PASSWORD

SELECT 'CREATE ROLE board_owner' WHERE NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'board_owner') \gexec
SELECT 'CREATE ROLE board_app' WHERE NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'board_app') \gexec

ALTER ROLE board_owner LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE PASSWORD :'owner_password';
ALTER ROLE board_app LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE PASSWORD :'app_password';

ALTER DATABASE :"DBNAME" OWNER TO board_owner;
REVOKE ALL ON DATABASE :"DBNAME" FROM PUBLIC;
GRANT CONNECT ON DATABASE :"DBNAME" TO board_app;

ALTER SCHEMA public OWNER TO board_owner;
REVOKE ALL ON SCHEMA public FROM PUBLIC;
GRANT USAGE ON SCHEMA public TO board_app;

ALTER DEFAULT PRIVILEGES FOR ROLE board_owner IN SCHEMA public
  GRANT SELECT, INSERT, UPDATE, DELETE ON TABLES TO board_app;
ALTER DEFAULT PRIVILEGES FOR ROLE board_owner IN SCHEMA public
  GRANT USAGE, SELECT ON SEQUENCES TO board_app;
