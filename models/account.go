package models

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"golang.org/x/text/unicode/norm"
	"gorm.io/gorm"

	"revidit/auth"
	"revidit/review"
	"revidit/review/jobs"
)

// accountRow is a row of accounts. Name and role stand in people.
type accountRow struct {
	Person       string `gorm:"primaryKey"`
	Login        string
	PasswordHash string
	Version      int
	Disabled     bool
	CreatedAt    instant `gorm:"autoCreateTime:false"`
	Language     string
	SeenAt       *instant
	SecondFactor bool
}

func (accountRow) TableName() string { return "accounts" }

func toAccountRow(a auth.Account) (accountRow, personRow) {
	return accountRow{Person: a.Person, Login: loginKey(a.Login), PasswordHash: a.PasswordHash, Version: a.Version,
			Disabled: a.Disabled, CreatedAt: instantOf(a.CreatedAt), Language: a.Language, SeenAt: instantOrNull(a.SeenAt), SecondFactor: a.SecondFactor},
		personRow{ID: a.Person, Name: a.Name, Role: a.Role, Families: a.Families}
}

// loginKey is a login as it is stored and looked for, so that Ada and ada are the same one.
func loginKey(login string) string { return norm.NFC.String(strings.ToLower(login)) }

// accountLine is an account joined with its person.
type accountLine struct {
	Account accountRow `gorm:"embedded"`
	Name    string
	Role    review.Role
	// Families is as review.Families has it.
	Families review.Families
	Machines review.Machines
}

func (r accountLine) fromRow() auth.Account {
	a := r.Account
	return auth.Account{Person: a.Person, Name: r.Name, Login: a.Login, Role: r.Role, PasswordHash: a.PasswordHash,
		Version: a.Version, Disabled: a.Disabled, CreatedAt: a.CreatedAt.Time, Language: a.Language, SeenAt: timeOrNil(a.SeenAt), SecondFactor: a.SecondFactor, Families: r.Families,
		Machines: r.Machines}
}

func (db *DB) accounts(ctx context.Context) *gorm.DB { return accountsIn(db.read(ctx)) }

// accountColumns are those of an accountLine.
const accountColumns = "a.*, p.name, p.role, p.families, COALESCE((SELECT string_agg(given.person, ' ' ORDER BY given.person) " +
	"FROM (SELECT DISTINCT t.person FROM machine_tokens AS t WHERE t.created_by = a.person) AS given), '') AS machines"

func accountsIn(tx *gorm.DB) *gorm.DB {
	return tx.Table("accounts AS a").Select(accountColumns).Joins("JOIN people AS p ON p.id = a.person")
}

// AccountByLogin implements auth.Store.
func (db *DB) AccountByLogin(ctx context.Context, login string) (auth.Account, error) {
	row, err := find[accountLine](byID(db.accounts(ctx), "a.login", loginKey(login)), "There is no account %q.", login)
	if err != nil {
		return auth.Account{}, err
	}
	return row.fromRow(), nil
}

// AccountByPerson implements auth.Store.
func (db *DB) AccountByPerson(ctx context.Context, person string) (auth.Account, error) {
	row, err := find[accountLine](byID(db.accounts(ctx), "a.person", person), "Person %s has no account.", person)
	if err != nil {
		return auth.Account{}, err
	}
	return row.fromRow(), nil
}

// CreateAccount implements auth.Store. A person who is known already, such as the determiner of an old slip, is taken
// over.
func (db *DB) CreateAccount(ctx context.Context, a auth.Account) error {
	return db.changeAccount(ctx, func(tx *gorm.DB) error { return storeAccount(tx, theProgram, a) })
}

// storeAccount stores a new account with its person.
func storeAccount(tx *gorm.DB, by review.Actor, a auth.Account) error {
	account, person := toAccountRow(a)
	err := storePeople(tx, []personRow{person})
	if err == nil {
		err = insert(tx, "an account", []accountRow{account})
	}
	if errors.Is(err, gorm.ErrDuplicatedKey) {
		return review.Errorf(review.KindConflict, "There is an account with the login %q, or one of this person, already. Nothing was stored; choose another login.", account.Login)
	}
	if err != nil {
		return err
	}
	return recordAccount(tx, by, a.Person, a.CreatedAt, &review.AccountAdded{Role: a.Role})
}

// changeAccount is a transaction that leaves events of accounts.
func (db *DB) changeAccount(ctx context.Context, steps func(tx *gorm.DB) error) error {
	err := db.write(ctx, steps)
	if err == nil {
		db.sequencer.wake()
	}
	return err
}

// lockAccount keeps an account from changing before the transaction ends, so that no two write the same event of it. It raises the
// version, by which a login that is beginning sees that something has changed.
func lockAccount(tx *gorm.DB, person string) error {
	result := byID(tx.Model(&accountRow{}), "person", person).Update("version", gorm.Expr("version + 1"))
	if result.Error != nil {
		return fmt.Errorf("lock an account: %w", result.Error)
	}
	if result.RowsAffected == 0 {
		return review.Errorf(review.KindNotFound, "Person %s has no account. Nothing was changed.", person)
	}
	return nil
}

// ChangeAccount implements auth.Store. Nothing that was read before is written, so that of two who change an account at the
// same time neither undoes what the other did.
func (db *DB) ChangeAccount(ctx context.Context, person string, c auth.AccountChange) error {
	by, asked := c.By, false
	if by.Person == "" {
		by = theProgram
	}
	err := db.changeAccount(ctx, func(tx *gorm.DB) (err error) {
		result := byID(tx.Model(&accountRow{}), "person", person).Updates(changedColumns(c))
		if result.Error != nil {
			return fmt.Errorf("change an account: %w", result.Error)
		}
		if result.RowsAffected == 0 {
			return review.Errorf(review.KindNotFound, "Person %s has no account. Nothing was changed.", person)
		}
		if c.EndSessions {
			if err := endSessions(tx, person, c.KeepSession); err != nil {
				return err
			}
		}
		if c.Role != nil {
			if err := tx.Model(&personRow{}).Where("id = ?", person).Update("role", *c.Role).Error; err != nil {
				return fmt.Errorf("change the role of a person: %w", err)
			}
		}
		if c.Families != nil {
			if err := tx.Model(&personRow{}).Where("id = ?", person).Update("families", *c.Families).Error; err != nil {
				return fmt.Errorf("name a reviewer for families: %w", err)
			}
		}
		if err := recordAccount(tx, by, person, tx.NowFunc(), accountEvents(c)...); err != nil {
			return err
		}
		asked, err = db.post(ctx, tx, c.Letter)
		return err
	})
	if err == nil && asked {
		db.queue.wake()
	}
	return err
}

// post stores a letter, where there is one, with the job that sends it.
func (db *DB) post(ctx context.Context, tx *gorm.DB, letter *review.Letter) (asked bool, err error) {
	if letter == nil {
		return false, nil
	}
	if err := storeLetters(tx, []review.Letter{*letter}); err != nil {
		return false, err
	}
	return db.askAll(ctx, tx, []jobs.Job{jobs.Mail()})
}

func changedColumns(c auth.AccountChange) map[string]any {
	columns := map[string]any{"version": gorm.Expr("version + 1")}
	if c.PasswordHash != nil {
		columns["password_hash"] = *c.PasswordHash
	}
	if c.Disabled != nil {
		columns["disabled"] = *c.Disabled
	}
	return columns
}

// FindAccounts implements auth.Store.
func (db *DB) FindAccounts(ctx context.Context) ([]auth.Account, error) {
	var rows []accountLine
	if err := db.accounts(ctx).Order("a.login").Scan(&rows).Error; err != nil {
		return nil, fmt.Errorf("list accounts: %w", err)
	}
	accounts := []auth.Account{}
	for _, row := range rows {
		accounts = append(accounts, row.fromRow())
	}
	return accounts, nil
}

// AccountsOf implements auth.Store.
func (db *DB) AccountsOf(ctx context.Context, persons []string) ([]auth.Account, error) {
	var rows []accountLine
	persons = storableIDs(persons)
	if len(persons) == 0 {
		return nil, nil
	}
	if err := db.accounts(ctx).Where("a.person IN ?", persons).Scan(&rows).Error; err != nil {
		return nil, fmt.Errorf("read accounts: %w", err)
	}
	accounts := make([]auth.Account, len(rows))
	for i, row := range rows {
		accounts[i] = row.fromRow()
	}
	return accounts, nil
}

// SetLanguage implements service.Store. It is no change of what a login rests on, and leaves the version alone.
func (db *DB) SetLanguage(ctx context.Context, by review.Actor, tag string) error {
	err := db.write(ctx, func(tx *gorm.DB) error {
		row, err := find[accountRow](byID(tx, "person", by.Person), "Person %s has no account. Nothing was changed.", by.Person)
		if err != nil || row.Language == tag {
			return err
		}
		if err := byID(tx.Model(&accountRow{}), "person", by.Person).Update("language", tag).Error; err != nil {
			return fmt.Errorf("store a language: %w", err)
		}
		return recordAccount(tx, by, by.Person, tx.NowFunc(), &review.LanguageChosen{Language: tag})
	})
	if err == nil {
		db.sequencer.wake()
	}
	return err
}

// Language implements service.Reader.
func (db *DB) Language(ctx context.Context, person string) (string, error) {
	row, err := find[accountRow](byID(db.read(ctx), "person", person), "Person %s has no account.", person)
	if review.KindOf(err) == review.KindNotFound {
		return "", nil
	}
	return row.Language, err
}
