UPDATE leagues SET book_mark = $2 WHERE id = $1
