-- +goose Up
-- Letters tell a person what has become of the museum's login of an account.
ALTER TABLE letters DROP CONSTRAINT letters_kind_check;
ALTER TABLE letters ADD CONSTRAINT letters_kind_check CHECK (kind IN ('digest', 'confirm', 'invitation', 'reset', 'password-set',
        'museum-login-linked', 'museum-login-unlinked', 'museum-login-taken-off'));
