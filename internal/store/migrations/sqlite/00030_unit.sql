-- The hospital or clinic that keeps the record: one row, with its history as every
-- noun has.

-- +goose Up
create table unit (
    id      text not null primary key,
    version integer not null,
    struck  integer not null,              -- 0 or 1: struck out
    body    text not null,
    name    text not null
) strict;
