-- The hospital or clinic that keeps the record: one row, with its history as every
-- noun has.

-- +goose Up
create table unit (
    id      text collate "C" not null primary key,
    version bigint not null,
    struck  bigint not null,              -- 0 or 1: struck out
    body    text collate "C" not null,
    name    text collate "C" not null
);
