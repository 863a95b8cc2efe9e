SELECT count(*) AS findings FROM findings
