-- +goose Up
-- Letters tell a person what has become of the second factors of a login.
ALTER TABLE letters DROP CONSTRAINT letters_kind_check;
ALTER TABLE letters ADD CONSTRAINT letters_kind_check CHECK (kind IN ('digest', 'confirm', 'invitation', 'reset', 'password-set',
        'museum-login-linked', 'museum-login-unlinked', 'museum-login-taken-off',
        'second-factor-added', 'second-factor-removed', 'second-factors-taken-off', 'recovery-codes-renewed'));
