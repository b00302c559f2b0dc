package models

import (
	"context"
	"encoding/json"
	"fmt"
	"strconv"

	"revidit/review"
)

// policyRow is a row of policies; the one with the highest version is in force.
type policyRow struct {
	Version int `gorm:"primaryKey;autoIncrement:false"`
	Body    string
}

func (policyRow) TableName() string { return "policies" }

func toPolicyRow(p review.Policy) (policyRow, error) {
	body, err := json.Marshal(p)
	if err != nil {
		return policyRow{}, fmt.Errorf("encode policy %d: %w", p.Version, err)
	}
	return policyRow{Version: p.Version, Body: string(body)}, nil
}

// Policy implements review.Reader.
func (db *DB) Policy(ctx context.Context) (p review.Policy, err error) {
	var rows []policyRow
	if err := db.read(ctx).Order("version DESC").Limit(1).Find(&rows).Error; err != nil {
		return review.Policy{}, fmt.Errorf("read the policy: %w", err)
	}
	if len(rows) == 0 {
		return review.DefaultPolicy(), nil
	}
	if err := json.Unmarshal([]byte(rows[0].Body), &p); err != nil {
		return review.Policy{}, unreadablePolicy(rows[0].Version, err)
	}
	return p, nil
}

// unreadablePolicy: no other one is taken in its place, because names would settle by it.
func unreadablePolicy(version int, cause error) error {
	return unreadable("policy", strconv.Itoa(version), cause)
}
